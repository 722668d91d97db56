package training

import "math"

// Rate is how often something was so among those of which it is known.
type Rate struct{ K, N int }

// z95 cuts 2.5 % off each end of the normal distribution.
const z95 = 1.959963984540054

// Interval is the 95 % Wilson interval of a rate: shares between which the true one lies,
// were the N a fair choice. Of nothing it is everything, from 0 to 1.
func (r Rate) Interval() (low, high float64) {
	if r.N == 0 {
		return 0, 1
	}
	n, p := float64(r.N), float64(r.K)/float64(r.N)
	middle := p + z95*z95/(2*n)
	reach := z95 * math.Sqrt(p*(1-p)/n+z95*z95/(4*n*n))
	scale := 1 + z95*z95/n
	return max(0, (middle-reach)/scale), min(1, (middle+reach)/scale)
}

// Share is K of N, 0 of nothing.
func (r Rate) Share() float64 {
	if r.N == 0 {
		return 0
	}
	return float64(r.K) / float64(r.N)
}

func (r Rate) plus(o Rate) Rate { return Rate{r.K + o.K, r.N + o.N} }
