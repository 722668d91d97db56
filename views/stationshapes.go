package views

import "strings"

// shape is one surface in the station picture: its outline, and where the
// numbers of its findings stand.
type shape struct {
	D    string
	X, Y int
}

// stationShapes is our own drawing of a station, by surface. What is drawn
// later lies on top.
var stationShapes = []struct {
	ID string
	shape
}{
	{"left", shape{"M150 118l-34 18v262l34-12z", 128, 330}},
	{"right", shape{"M330 118l34 18v262l-34-12z", 350, 330}},
	{"front", shape{"M150 118h180v268H150z", 240, 352}},
	{"top", shape{"M144 104q0-8 8-8h176q8 0 8 8v14H144z", 186, 104}},
	{"pole", shape{"M282 22h44a4 4 0 0 1 0 8h-18v66h-8V30h-18a4 4 0 0 1 0-8z", 304, 46}},
	{"screen", shape{"M176 134h128a6 6 0 0 1 6 6v62a6 6 0 0 1-6 6H176a6 6 0 0 1-6-6v-62a6 6 0 0 1 6-6z", 240, 170}},
	{"buttons", shape{"M170 220h66v28h-66z", 203, 234}},
	{"keyboard", shape{"M246 220h64v28h-64z", 278, 234}},
	{"latches", shape{"M182 262h24v56h-24zM228 262h24v56h-24zM274 262h24v56h-24z", 240, 290}},
	{"attachments", shape{"M56 150h44v58H56zM100 172h16v10h-16z", 78, 178}},
	{"cuff", shape{"M384 172h66a8 8 0 0 1 8 8v24a8 8 0 0 1-8 8h-66zM364 188h20v6h-20z", 420, 192}},
	{"bucket-outside", shape{"M34 300h88l-12 84H46z", 78, 372}},
	{"bucket-sides", shape{"M52 318h52l-6 40H58z", 78, 340}},
	{"bucket-inside", shape{"M34 300a44 12 0 0 1 88 0a44 12 0 0 1-88 0z", 78, 298}},
	{"chair", shape{"M494 152h34a14 14 0 0 1 14 14v116h96a14 14 0 0 1 14 14v22h-22v80h-14v-62H508v62h-14v-80h-14V166a14 14 0 0 1 14-14z", 566, 306}},
	{"side-table", shape{"M690 286h92v12h-8v100h-10V298h-56v100h-10V298h-8z", 736, 292}},
	{"counter", shape{"M640 142h150v12H640zM648 154h134v58H648z", 715, 184}},
	{"staging", shape{"M668 122h90v8l-6 12h-78l-6-12z", 713, 130}},
	{"call-light", shape{"M588 108h24v42h-24zM598 150h4v66h-4z", 600, 126}},
}

// handsX and handsY are where findings about hands, gloves and order stand.
const handsX, handsY = 440, 66

// shapeOf finds the drawing of a surface; a surface the picture does not know
// is named below it.
func shapeOf(surface string) string {
	for _, name := range []string{surface, strings.TrimPrefix(surface, "machine-"), strings.TrimSuffix(surface, "-surface")} {
		for _, s := range stationShapes {
			if s.ID == name {
				return s.ID
			}
		}
	}
	return ""
}
