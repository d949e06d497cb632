package account

import (
	"time"

	"lentic/collector/aquarium"
	"lentic/store/ledger"
)

const sessionsShelf = "sessions"

// How long a browser stays signed in. A keeper is called at night and must not
// first look for a password, so the stay is long and the secret changes often.
// Common practice, no source.
const (
	// Idle ends a session that was not used.
	Idle = 14 * 24 * time.Hour
	// Lifetime ends any session, counted from its sign-in.
	Lifetime = 90 * 24 * time.Hour
	// Fresh is how long one secret serves before Renew gives another.
	Fresh = 24 * time.Hour
	// overlap lets requests that were already under way with the old secret
	// arrive.
	overlap = time.Minute
)

// Session is a browser that has signed in.
type Session struct {
	User    string           `json:"user"`
	Began   aquarium.Instant `json:"began"`  // the sign-in
	Issued  aquarium.Instant `json:"issued"` // when this secret was given
	Expires aquarium.Instant `json:"expires"`
	// Renewed marks a secret that was replaced and only serves what was
	// under way.
	Renewed bool `json:"renewed,omitempty"`
}

// Due reports whether the session's secret has served its time and Renew
// should give another.
func (s Session) Due(now aquarium.Instant) bool {
	return !s.Renewed && now.Sub(s.Issued) >= Fresh
}

// Begin signs an account in and returns the secret for its browser. Sessions
// that have expired are swept out on the way.
func Begin(tx ledger.Tx, now aquarium.Instant, user string) (string, error) {
	if err := sweep(tx, now); err != nil {
		return "", err
	}
	return put(tx, Session{User: user, Began: now, Issued: now})
}

func put(tx ledger.Tx, s Session) (string, error) {
	s.Expires = min(s.Issued.Add(Idle), s.Began.Add(Lifetime))
	secret := newSecret()
	return secret, tx.Put(sessionsShelf, digest(secret), s)
}

// Resume is the session and account of a secret; found is false for one that
// is unknown, expired or whose account is gone.
func Resume(tx ledger.Tx, now aquarium.Instant, secret string) (s Session, u User, found bool, err error) {
	if secret == "" {
		return Session{}, User{}, false, nil
	}
	found, err = tx.Get(sessionsShelf, digest(secret), &s)
	if err != nil || !found || now >= s.Expires {
		return Session{}, User{}, false, err
	}
	u, found, err = Find(tx, s.User)
	if err != nil || !found {
		return Session{}, User{}, false, err
	}
	return s, u, true, nil
}

// Renew replaces a session's secret by a fresh one; the old one ends within a
// minute. ErrUnknown when there is no such session or it was renewed already.
func Renew(tx ledger.Tx, now aquarium.Instant, secret string) (string, error) {
	s, _, found, err := Resume(tx, now, secret)
	if err != nil {
		return "", err
	}
	if !found || s.Renewed {
		return "", ErrUnknown
	}
	old := s
	old.Renewed = true
	old.Expires = min(old.Expires, now.Add(overlap))
	if err := tx.Put(sessionsShelf, digest(secret), old); err != nil {
		return "", err
	}
	s.Issued = now
	return put(tx, s)
}

// End signs a browser out. An unknown secret is not an error.
func End(tx ledger.Tx, secret string) error {
	return tx.Delete(sessionsShelf, digest(secret))
}

func sweep(tx ledger.Tx, now aquarium.Instant) error {
	return dropWhere(tx, sessionsShelf, func(s Session) bool { return now >= s.Expires })
}

func dropSessions(tx ledger.Tx, user string) error {
	return dropWhere(tx, sessionsShelf, func(s Session) bool { return s.User == user })
}

// dropWhere deletes the documents of a shelf that match: first found, then
// deleted, for Each must not write.
func dropWhere[T any](tx ledger.Tx, shelf string, match func(T) bool) error {
	var keys []string
	_, err := gather(tx, shelf, func(key string, v T) bool {
		if match(v) {
			keys = append(keys, key)
		}
		return false
	})
	if err != nil {
		return err
	}
	for _, k := range keys {
		if err := tx.Delete(shelf, k); err != nil {
			return err
		}
	}
	return nil
}
