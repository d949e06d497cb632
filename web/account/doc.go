// Package account keeps who may look and who may act: accounts with a password,
// sessions of browsers, and bearer tokens of programs.
//
// No secret is kept as it is. Passwords are hashed with argon2id; session and
// bearer secrets are 256 random bits, of which the ledger holds the SHA-256
// only, so that a stolen copy of the data opens nothing. Such secrets cannot be
// guessed, which is why a fast hash does for them and not for passwords.
//
// Every function works on a ledger transaction that the caller opened, and is
// told the time: the package has no clock and starts nothing. Hashing a
// password takes tens of milliseconds on purpose; it is kept out of the
// functions that are given a transaction.
package account
