// Package alert keeps the alarms: it has every site judged, remembers what
// stands and what people did about it, and gets somebody told.
//
// The Desk drives one detect.Watch a site in event time, one tick every
// aquarium.Step. What a tick finds, the messages that follow from it and the
// mark how far the site has been judged are written in one transaction: after
// a crash a text may be sent twice, and then its record says so; none is lost.
//
// A restart, a late batch, a new configuration and a jump of the clock are one
// case: the site is judged again from stored readings (Replay), the result is
// compared with what the ledger holds, and people are woken only for what
// still stands.
package alert
