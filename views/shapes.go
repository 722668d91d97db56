package views

const dropPath = "M12 2c4 5.200 7 8.600 7 12.400a7 7 0 0 1-14 0C5 10.600 8 7.200 12 2z"
