package main

import (
	"fmt"
	"io"
	"net/http"
	"testing"
	"time"
)

// TestFiguresPages: how long the pages that read much take with 100 tanks of 12
// sensors and 14 days at a reading a minute. Asked for with -figures.
func TestFiguresPages(t *testing.T) {
	asked(t)
	f := fleet{sites: 10, tanksEach: 10, web: freePort(t), mqtt: freePort(t), provider: receiveTexts(t).url, dir: t.TempDir()}
	n, took := f.fill(t, 14*24*time.Hour, time.Minute)
	t.Logf("stored %d readings in %s", n, took.Round(time.Millisecond))
	p := start(t, binary(t), "run", "-c", writeConfig(t, f.dir, f.config()))
	t.Logf("healthy after %s", waitHealthy(t, p, f.web, 2*time.Minute).Round(time.Millisecond))
	for _, path := range []string{"/", "/before", "/before?tank=site-0/tank-0&tank=site-0/tank-1&tank=site-1/tank-0",
		"/before/site-0/tank-0", "/tank/site-0/tank-0", "/tank/site-0/tank-0"} {
		began := time.Now()
		res, err := http.Get(fmt.Sprintf("http://127.0.0.1:%d%s", f.web, path))
		if err != nil {
			t.Fatal(err)
		}
		b, err := io.ReadAll(res.Body)
		res.Body.Close()
		if err != nil || res.StatusCode != http.StatusOK {
			t.Errorf("%s: %s (%v)", path, res.Status, err)
		}
		t.Logf("%-60s %8s %8d bytes", path, time.Since(began).Round(time.Millisecond), len(b))
	}
	t.Logf("memory: %.0f MiB, at most %.0f", memory(t, p, "VmRSS"), memory(t, p, "VmHWM"))
}
