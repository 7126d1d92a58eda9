// Package field pools the records of a whole field: what the crowd ran at each
// turn, who left the permitted road and where, and what length of the course
// the records support.
//
// A Ground is a course prepared for it, with places along the line at which the
// crowd is looked at. Look reviews one record and keeps what those places need;
// a Tally adds looks in sketches of fixed size, so that memory does not grow
// with the records, and merges exactly; Judge draws the Verdict from a tally.
//
// The slow error of one receiver averages out over many. What receivers share at
// a place (a reflecting wall, a drawing that is off) does not: its size is learnt
// where nothing can have moved, and no fault smaller than it is called one. So
// pooling says where to look, not how long the course is to a tenth of a per
// cent. Simulated fields with planted faults hold the levels (simulate_test.go).
package field
