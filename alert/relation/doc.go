// Package relation learns how several sensors move together and tells when they
// no longer do, though each of them alone may look as it always has: a pump that
// draws more for the same flow, a valve that is open longer for the same pH.
//
// Learn takes rows, one value of each sensor at the same time, from a stretch in
// which all was well, and makes a Model of them. A Chart is told the rows after
// that, one by one: it holds two averages of each sensor, a fast one and a slow
// one that is the normal of late, and weighs how far apart they are against how
// far apart they were while learning: Hotelling's T², of exponentially weighted
// averages (Lowry, Woodall, Champ & Rigdon 1992). Beside it stands how far each
// sensor is from what the others let expect of it. The limit comes from a run
// length (run_length.go): how many rows it takes on average to a false alarm.
//
// The run length holds for rows that vary as those did which were learned from.
// Rows of water or machines depend on one another and wander, so three things
// are not taken from a book but from the rows: how far the averages lie apart,
// which holds the dependence; how few independent looks at that there were; and
// how far up, therefore, it may really be (model.go).
//
// A Model is not changed once it is made, and may be used by anyone at once. A
// Chart is a plain value: copying it copies all it knows.
package relation
