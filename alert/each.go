package alert

import (
	"encoding/json"
	"fmt"

	"lentic/store/ledger"
)

// each decodes the documents of a shelf from a key on, in the order of keys.
func each[T any](tx ledger.Tx, shelf, from string, fn func(key string, v *T)) error {
	var bad error
	err := tx.Each(shelf, from, "", func(key string, doc []byte) bool {
		v := new(T)
		if err := json.Unmarshal(doc, v); err != nil {
			bad = fmt.Errorf("%s/%s: %w", shelf, key, err)
			return false
		}
		fn(key, v)
		return true
	})
	if err != nil {
		return err
	}
	return bad
}
