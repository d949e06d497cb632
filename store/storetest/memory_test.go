package storetest_test

import (
	"testing"
	"time"

	"lentic/store/storetest"
)

func TestMemory(t *testing.T) {
	storetest.Run(t, func(*testing.T) storetest.Store {
		m := storetest.NewMemory()
		m.Now = func() time.Time { return storetest.Now }
		return m
	})
}

func TestLedger(t *testing.T) { storetest.RunLedger(t, storetest.NewLedger()) }
