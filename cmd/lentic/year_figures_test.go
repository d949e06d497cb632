package main

import (
	"bufio"
	"fmt"
	"net/http"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"lentic/cmd/lentic/daemon"
	"lentic/collector/aquarium"
	"lentic/collector/sim"
)

// simulatedYear writes a year of a simulated tank at a reading each ten seconds
// of every sensor, as CSV, up to now.
func simulatedYear(t *testing.T, cfg, path string) (rows int, sensors int) {
	t.Helper()
	c, err := daemon.LoadConfig(cfg)
	if err != nil {
		t.Fatal(err)
	}
	site, tank := c.Sites[0], c.Sites[0].Tanks[0]
	f, err := os.Create(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	w := bufio.NewWriterSize(f, 1<<20)
	w.WriteString("time,site,tank,sensor,value\n")
	end := aquarium.At(time.Now()).Floor(10 * time.Second)
	at := end.Add(-365 * 24 * time.Hour)
	s := sim.New(tank, site.ID, site.Timezone, sim.Options{Seed: 7, Start: at})
	var rs []aquarium.Reading
	for ; at < end; at = at.Add(10 * time.Second) {
		s.Advance(at)
		rs = s.AppendReadings(rs[:0])
		when := at.Time().Format("2006-01-02T15:04:05Z07:00")
		for _, r := range rs {
			fmt.Fprintf(w, "%s,%s,%s,%s,%v\n", when, r.Sensor.Site, r.Sensor.Tank, r.Sensor.Sensor, r.Value)
		}
		rows += len(rs)
	}
	if err := w.Flush(); err != nil {
		t.Fatal(err)
	}
	return rows, len(rs)
}

// TestFiguresYear imports a year of one tank, starts with it, and opens its
// year in the browser. Asked for with -figures.
func TestFiguresYear(t *testing.T) {
	asked(t)
	f := fleet{sites: 1, tanksEach: 1, web: freePort(t), mqtt: freePort(t), provider: receiveTexts(t).url, dir: t.TempDir()}
	cfg := writeConfig(t, f.dir, f.config())
	file := filepath.Join(f.dir, "year.csv")
	rows, sensors := simulatedYear(t, cfg, file)
	info, err := os.Stat(file)
	if err != nil {
		t.Fatal(err)
	}
	began := time.Now()
	said := does(t, "import", "-c", cfg, file)
	took := time.Since(began)
	contains(t, said, fmt.Sprintf("%d rows: %d new", rows, rows))
	db, err := os.Stat(filepath.Join(f.dir, "data", "lentic.db"))
	if err != nil {
		t.Fatal(err)
	}
	t.Logf("%d readings of %d sensors, %d MiB of CSV: imported in %s (%.2f million a second), %.1f MiB, %.3f bytes a reading", rows, sensors, info.Size()>>20,
		took.Round(100*time.Millisecond), float64(rows)/took.Seconds()/1e6, float64(db.Size())/(1<<20), float64(db.Size())/float64(rows))
	for _, which := range []string{"first start", "next start"} {
		p := start(t, binary(t), "run", "-c", cfg)
		t.Logf("%s: healthy after %s, VmRSS %.0f MiB, of it anonymous %.0f MiB", which, waitHealthy(t, p, f.web, time.Minute).Round(time.Millisecond), memory(t, p, "VmRSS"), memory(t, p, "RssAnon"))
		if which == "next start" {
			yearOf(t, f, sensors)
		}
		p.stop(12 * time.Second)
	}
}

// yearOf opens the tank's page, asks for the year, and waits until it is drawn:
// of every sensor and the estimated CO2.
func yearOf(t *testing.T, f fleet, sensors int) {
	t.Helper()
	url := fmt.Sprintf("http://127.0.0.1:%d", f.web)
	for _, sensor := range []string{"ph", "heat", "co2-estimate"} {
		began := time.Now()
		res, err := http.Get(fmt.Sprintf("%s/api/v1/readings?site=site-0&tank=tank-0&sensor=%s&from=%d&to=%d", url, sensor, began.Add(-365*24*time.Hour).UnixMilli(), began.UnixMilli()))
		if err != nil {
			t.Fatal(err)
		}
		var got struct {
			T []int64 `json:"t"`
		}
		if err := decodeJSON(res.Body, &got); err != nil || len(got.T) < 400 {
			t.Errorf("a year of %s: %d points (%s, %v)", sensor, len(got.T), res.Status, err)
		}
		res.Body.Close()
		t.Logf("a year of %s over the API: %d points in %s", sensor, len(got.T), time.Since(began).Round(100*time.Microsecond))
	}
	ctx, _ := tab(t, chromium(t), view{1440, 900, false, true})
	began := time.Now()
	if err := chromedp.Do(ctx, chromedp.Navigate(url+"/tank/site-0/tank-0"), chromedp.WaitReady(chromedp.CSS("[data-ready]"))); err != nil {
		t.Fatal(err)
	}
	t.Logf("the tank's page with its day: %s", time.Since(began).Round(time.Millisecond))
	// The page waits 150 ms for the hand to rest before it asks.
	if _, err := chromedp.Run(ctx, chromedp.Evaluate[bool](`(() => {
		const frame = () => new Promise(requestAnimationFrame);
		const asked = () => performance.getEntriesByType('resource').filter(e => e.name.includes('/api/v1/readings'));
		const first = asked().length;
		const began = performance.now();
		[...document.querySelectorAll('button')].find(b => b.textContent === 'year').click();
		(async () => {
			for (;;) {
				await frame();
				const now = asked().slice(first);
				if (now.length >= `+fmt.Sprint(sensors+1)+` && now.every(e => e.responseEnd > 0)) break;
			}
			await frame(); await frame();
			window.yearTook = performance.now() - began;
		})();
		return true;
	})()`)); err != nil {
		t.Fatal(err)
	}
	var ms float64
	eventually(t, patience, "the year is drawn", func() bool {
		var err error
		ms, err = chromedp.Run(ctx, chromedp.Evaluate[float64](`window.yearTook ?? 0`))
		return err == nil && ms > 0
	})
	t.Logf("the year drawn in the browser %.0f ms after it was asked for, 150 of them waiting for the hand to rest", ms)
	if dir := os.Getenv("LENTIC_PICTURES"); dir != "" {
		picture(t, ctx, view{1440, 900, false, true}, filepath.Join(dir, "year-1440.png"))
	}
}
