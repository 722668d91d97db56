package station_test

import (
	"fmt"
	"math/rand/v2"
	"regexp"
	"strings"
	"testing"
)

func TestZZ(t *testing.T) {
	p := builtIn(t)
	seen := map[string]int{}
	num := regexp.MustCompile(`after \d+ `)
	for seed := range uint64(4000) {
		lines := contaminatingLog(rand.New(rand.NewPCG(seed, 17)))
		if differs(t, p, lines) == "" {
			continue
		}
		lines = shortest(t, p, lines)
		k := num.ReplaceAllString(differs(t, p, lines), "")
		if seen[k]++; seen[k] == 1 {
			fmt.Println(k, "|", strings.Join(lines, "; "))
		}
	}
	fmt.Println(seen)
}
