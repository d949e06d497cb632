// Package wire turns what arrives as bytes into readings, and refuses the rest
// with a reason.
//
// A Registry knows which topic belongs to which sensor. Decode takes one
// Message and says what is in it: readings, records set aside because their
// time cannot be right, a message nobody claims, refusals. Nothing is dropped
// in silence, and one bad record costs only itself.
//
// Understood are bare numbers, SenML packs in JSON and CBOR (RFC 8428), other
// JSON by a configured pointer (RFC 6901), the words and health of gateways,
// and rows of CSV (RFC 4180). Values are taken as they come: units are checked
// here and converted elsewhere, so that what is stored is what was measured.
//
// The package has no clock: the time of arrival comes with the message.
package wire
