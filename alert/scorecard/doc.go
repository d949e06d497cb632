// Command scorecard lets pretend tanks live and go wrong, has the live judgement
// look on, and prints what it made of them: for every fault how often it was
// named in time and rightly, and for healthy tanks how often it was cried wolf.
// It ends with what of the promised (report.go) was not kept, and then with status 1.
// It exists so that a change of a detector is judged by all faults and all of
// daily life at once, and not by the story it was made for.
//
//	go run ./alert/scorecard                 # everything, some twenty minutes
//	go run ./alert/scorecard -quick          # a glance
//	go run ./alert/scorecard -only siphon -v # one row, each miss with its reasons
//
// What has to be told by when is written in deadlines.go and nowhere else: words
// about the tank as it is in truth, which its readings may not show. The faults
// are in gas.go, water.go, machines.go and probes.go, each in three grades, the
// mildest just over the words. Every tank has lived for twelve days before, so
// that what is learned within a week is known. Seeds begin at -offset; those
// under a hundred are for whoever tunes a detector.
package main
