// Package collector takes in what arrives over MQTT and answers for it: a
// message is acknowledged when everything in it is on disk, and never before.
//
// An Intake decodes messages, gathers what has come while the disk was busy
// into one Batch, has the Sink commit it, and only then calls each message's
// done. Messages come from a Subscription to somebody's broker or from
// lentic's own; the Intake cannot tell them apart.
//
// Pressure goes backwards: while the disk is slow the queue fills, Offer waits,
// and whoever reads from the network stops reading. Nothing is dropped. The
// first error of the Sink is final: after it nothing is acknowledged, and
// senders will send again what was not.
package collector
