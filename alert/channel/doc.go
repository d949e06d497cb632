// Package channel gets a message out of the house: by HTTP to a provider of
// texts, by SMTP to a mail server.
//
// A channel makes one attempt and reports what the other side said; the
// outbox in package alert decides whether to try again, and by which way.
// Taken means taken over by the provider, as judged on its whole answer: one
// that says 200 and puts an error into the body has refused. No secret is
// quoted in a receipt or an error, and no certificate check can be left out.
package channel
