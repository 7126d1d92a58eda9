// Package spelling finds the word that a mistyped one most likely meant.
package spelling

// Nearest gives the known word that a mistyped one most likely meant, or ""
// when none is close: at most one slip in four letters, two at least.
func Nearest(word string, known []string) string {
	best, least := "", max(2, len(word)/4)+1
	for _, k := range known {
		if d := slips(word, k); d < least && d < len(k) {
			best, least = k, d
		}
	}
	return best
}

// slips counts the letters to insert, delete, replace or swap with their
// neighbour to turn a into b (the restricted Damerau–Levenshtein distance).
func slips(a, b string) int {
	x, y := []rune(a), []rune(b)
	if len(x) > 64 || len(y) > 64 {
		return max(len(x), len(y))
	}
	var before []int
	row := make([]int, len(y)+1)
	for j := range row {
		row[j] = j
	}
	for i := 1; i <= len(x); i++ {
		next := make([]int, len(y)+1)
		next[0] = i
		for j := 1; j <= len(y); j++ {
			cost := 1
			if x[i-1] == y[j-1] {
				cost = 0
			}
			next[j] = min(row[j]+1, next[j-1]+1, row[j-1]+cost)
			if i > 1 && j > 1 && x[i-1] == y[j-2] && x[i-2] == y[j-1] {
				next[j] = min(next[j], before[j-2]+1)
			}
		}
		before, row = row, next
	}
	return row[len(y)]
}
