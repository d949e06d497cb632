// Command bench measures the store beside what could be used in its place and
// beside what nothing could undercut, in one run on one machine, and prints
// what holds of what is aimed at. It is a module of its own, so that the peers
// never become part of the daemon.
//
// A row that needs a year of readings (600 sensors at ten seconds) has one
// written; -scale makes the year shorter, and then such a row says `not run`
// and does not hold. Absolute numbers are this machine's, at this moment; the
// ratios are what counts. Peers and store take turns within a row, so that what
// else the machine does meets them all.
package main
