// Package rota says who is told of an alarm, by what and when.
//
// It is arithmetic on a call-out ladder: given the rungs, what has been told
// so far and the time, Due lists what is to be told now and when to look
// again. It knows no clock, sends nothing and remembers nothing; the desk
// keeps a Call beside each alarm and hands it in.
//
// A rung's time counts from the raise. Quiet hours hold what is low or medium
// until they end, and never what is high. A rung with a digest is not a step
// of its own: it is gathered into the day's mail, whose hour NextDigest gives.
package rota
