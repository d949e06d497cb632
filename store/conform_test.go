package store_test

import (
	"path/filepath"
	"testing"
	"time"

	"lentic/store"
	"lentic/store/storetest"
)

func TestStore(t *testing.T) {
	storetest.Run(t, func(t *testing.T) storetest.Store {
		s, err := store.Open(filepath.Join(t.TempDir(), "lentic.db"), store.Options{Now: func() time.Time { return storetest.Now }, Reserve: -1})
		if err != nil {
			t.Fatal(err)
		}
		t.Cleanup(func() { s.Close() })
		return s
	})
}
