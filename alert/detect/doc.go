// Package detect judges what readings mean: it knows what each machine of a
// tank should do to the water, and raises a cause where it does not.
//
// A Watch judges one site. Readings and journal entries are handed to it in
// any order; nothing happens until the next Tick, a whole Step of event time,
// when everything up to it is taken in the order of time and every cause is
// looked at once. So the same readings always give the same transitions, live
// and in a backtest, and a year replays in seconds. A reading that belongs before
// the last tick takes the watch back to then (rewind.go), for a delay counts
// from what was so and not from what was known.
//
// Each cause is a file: it says what must be true, since when and on what
// evidence (a finding), and names the source of its thresholds. What is common
// to all is done once, by the Watch: delays, deadbands by way of telling a
// cause that it stands, one name per trouble (chain.go), parents that explain
// their children (parents.go), visits, and silence, which is never normal
// (last_known.go).
//
// No detector remembers readings older than Memory; what a tank is like over
// weeks is Learned, a document that grows by a day at a time. A Watch that is
// handed that document, was warmed up over Memory, and told by Stand what stood
// then, goes on as one that never stopped.
package detect
