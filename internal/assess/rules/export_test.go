package rules

// Begun is for tests that run the pairs alone.
var Begun = begun
