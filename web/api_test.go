package web

import (
	"context"
	"encoding/json"
	"math"
	"net/http"
	"strings"
	"testing"
	"time"

	"lentic/collector/aquarium"
)

func get[T any](t *testing.T, b *bench, target string) (v T) {
	t.Helper()
	w := b.ask("GET", target, "")
	if w.Code != 200 {
		t.Fatalf("%s: %d %s", target, w.Code, w.Body)
	}
	if err := json.Unmarshal(w.Body.Bytes(), &v); err != nil {
		t.Fatalf("%s: %v", target, err)
	}
	return v
}

func TestReadings(t *testing.T) {
	b := newBench(t, nil)
	const at = "/api/v1/readings?site=quillmere-library&tank=atrium&sensor="
	raw := get[readingsAnswer](t, b, at+"ph&from=2031-03-02T11:00:00Z&to=2031-03-02T12:00:00Z")
	if len(raw.T) != 60 || raw.Unit != "pH" || raw.GapMS != 180000 || raw.Mean[0] != 6.6 || raw.Min[0] != raw.Max[0] {
		t.Errorf("raw: got %d in %q, gap %d", len(raw.T), raw.Unit, raw.GapMS)
	}
	some := get[readingsAnswer](t, b, at+"ph&from=2031-03-02T11:00:00Z&to=2031-03-02T12:00:00Z&points=6")
	if len(some.T) != 6 || some.T[1]-some.T[0] != 600000 || some.GapMS != 780000 || !(some.Min[0] < some.Mean[0] && some.Mean[0] < some.Max[0]) {
		t.Errorf("buckets: got %+v", some)
	}
	edge := get[readingsAnswer](t, b, at+"ph&from=1930215600000&to=1930215660000")
	if raw.T[0] != 1930215600000 || len(edge.T) != 1 {
		t.Errorf("from belongs to the stretch and to does not: got %v", edge.T)
	}
	none := b.ask("GET", at+"ph&from=0&to=1000", "").Body.String()
	if !strings.Contains(none, `"t":[],"min":[],"mean":[],"max":[]`) {
		t.Errorf("empty: got %s", none)
	}
	// pH 6.60, 4 dKH, 24.5 Cel: about 25 to 35 mg/l by any of the usual sums;
	// the sums themselves are tested where they are.
	co2 := get[readingsAnswer](t, b, at+"co2-estimate&from=2031-03-02T11:00:00Z")
	if len(co2.T) != 60 || co2.Unit != "mg/l" || co2.Mean[0] < 25 || co2.Mean[0] > 35 || co2.Mean[59] <= co2.Mean[0] {
		t.Errorf("estimate: got %+v", co2)
	}
	b.desk.enter(aquarium.Entry{Kind: aquarium.HandTest, Site: "quillmere-library", Tank: "atrium", At: aquarium.At(noon.Add(-30 * time.Minute)), KH: 8})
	halved := get[readingsAnswer](t, b, at+"co2-estimate&from=2031-03-02T11:00:00Z")
	if halved.Mean[0] != co2.Mean[0] || math.Abs(halved.Mean[59]/co2.Mean[59]-2) > 0.1 {
		t.Errorf("a hand test must count from its time on: got %v and %v", halved.Mean[0], halved.Mean[59])
	}
	for _, bad := range []string{"ph&from=noon", "ph&points=0", "ph&points=10001", "ph&from=2000&to=1000", "ph&to=-5"} {
		if w := b.ask("GET", at+bad, ""); w.Code != 400 {
			t.Errorf("%s: got %d, want 400", bad, w.Code)
		}
	}
	if w := b.ask("GET", at+"salt", ""); w.Code != 404 {
		t.Errorf("unknown sensor: got %d, want 404", w.Code)
	}
}

func TestAlarms(t *testing.T) {
	b := newBench(t, nil)
	as := get[[]alarmAnswer](t, b, "/api/v1/alarms?standing=true")
	if len(as) != 3 || as[0].Priority != aquarium.High || as[2].ID != "h1" {
		t.Fatalf("got %+v, want three, the worst first", as)
	}
	for _, c := range []struct {
		name, target, body string
		want               int
	}{
		{"acknowledge", "q1/acknowledge", `{"note":"on my way"}`, 200},
		{"again", "q1/acknowledge", "", 200},
		{"unknown", "nothing/acknowledge", "{}", 404},
		{"over", "past/acknowledge", "{}", 409},
		{"shelve", "q1/shelve", `{"until":"2031-03-02T20:00:00Z","reason":"new valve tomorrow"}`, 200},
		{"shelve again", "q1/shelve", `{"until":"2031-03-02T20:00:00Z"}`, 200},
		{"by milliseconds", "q1/shelve", `{"until":1930240800000}`, 200},
		{"too long", "q1/shelve", `{"until":"2031-03-03T12:00:01Z"}`, 400},
		{"in the past", "q1/shelve", `{"until":"2031-03-02T11:00:00Z"}`, 400},
		{"without a time", "q1/shelve", `{}`, 400},
		{"what is over", "past/shelve", `{"until":"2031-03-02T20:00:00Z"}`, 409},
		{"no JSON", "q1/shelve", `until`, 400},
		{"too much", "q1/acknowledge", `{"note":"` + strings.Repeat("x", maxBody) + `"}`, 413},
	} {
		if w := b.ask("POST", "/api/v1/alarms/"+c.target, c.body); w.Code != c.want {
			t.Errorf("%s: got %d %s, want %d", c.name, w.Code, w.Body, c.want)
		}
	}
}

func TestSites(t *testing.T) {
	b := newBench(t, nil)
	ss := get[[]siteAnswer](t, b, "/api/v1/sites")
	tank := ss[0].Tanks[0]
	if len(ss) != 2 || len(tank.Sensors) != 4 || tank.Sensors[0].Latest == nil || tank.Sensors[0].Latest.Silent || tank.Sensors[2].Latest != nil ||
		!tank.Sensors[3].Derived || len(tank.Alarms) != 1 || tank.Equipment[0].Sensors["valve"] != "valve" {
		t.Errorf("got %+v", tank)
	}
}

func TestMetrics(t *testing.T) {
	b := newBench(t, nil)
	const line = `lentic_reading{quantity="ph",sensor="ph",site="quillmere-library",tank="atrium",unit="pH"} 6.305`
	plain := b.ask("GET", "/metrics", "")
	if body := plain.Body.String(); !strings.Contains(body, line+" 1930219140000\n") || !strings.Contains(body, "lentic_outbox_waiting") {
		t.Errorf("got %s", body)
	}
	open := b.ask("GET", "/metrics", "", "Accept", "application/openmetrics-text; version=1.0.0")
	if !strings.HasPrefix(open.Header().Get("Content-Type"), "application/openmetrics-text") || !strings.HasSuffix(open.Body.String(), "# EOF\n") {
		t.Errorf("OpenMetrics: got %s", open.Header().Get("Content-Type"))
	}
	b.now = noon.Add(10 * time.Minute)
	if body := b.ask("GET", "/metrics", "").Body.String(); strings.Contains(body, "lentic_reading{") {
		t.Error("a silent sensor is still shown")
	}
}

func TestHealth(t *testing.T) {
	reasons := []string{}
	b := newBench(t, func(o *Options) {
		o.Health = func() []string { return reasons }
		o.Learning = func(site aquarium.SiteID) bool { return site == "quillmere-library" }
	})
	b.accounts()
	const learning = `"learning":["quillmere-library"]`
	if w := b.ask("GET", "/healthz", ""); w.Code != 200 || strings.Contains(w.Body.String(), learning) {
		t.Errorf("while it learns, to nobody: got %d %s, want a bare 200", w.Code, w.Body)
	}
	if w := b.ask("GET", "/healthz", "", "Authorization", "Bearer "+b.token["keeper"]); w.Code != 200 || !strings.Contains(w.Body.String(), learning) {
		t.Errorf("while it learns, to a keeper: got %d %s, want 200 and the site", w.Code, w.Body)
	}
	if body := b.ask("GET", "/tank/quillmere-library/atrium", "", "Authorization", "Bearer "+b.token["keeper"]).Body.String(); !strings.Contains(body, "still being learned") {
		t.Error("the tank's page does not say that its weeks are still being learned")
	}
	reasons = []string{"no broker heard for 5 min"}
	if w := b.ask("GET", "/healthz", ""); w.Code != 503 || strings.Contains(w.Body.String(), "broker") {
		t.Errorf("to nobody: got %d %s, want a bare 503", w.Code, w.Body)
	}
	if w := b.ask("GET", "/healthz", "", "Authorization", "Bearer "+b.token["keeper"]); !strings.Contains(w.Body.String(), "broker") {
		t.Errorf("to a keeper: got %s", w.Body)
	}
}

func TestExposedAddressIsRefused(t *testing.T) {
	for _, public := range []string{"", "https://watch.example.net"} {
		b := newBench(t, func(o *Options) { o.Address, o.PublicURL = "192.0.2.1:8420", public })
		if err := b.Run(context.Background()); err == nil || !strings.Contains(err.Error(), "needs public_url and an account") {
			t.Errorf("public %q: got %v", public, err)
		}
	}
}

func TestRunStops(t *testing.T) {
	b := newBench(t, nil)
	ctx, cancel := context.WithCancel(context.Background())
	done := make(chan error, 1)
	go func() { done <- b.Run(ctx) }()
	resp, err := http.Get("http://" + b.Addr().String() + "/healthz")
	if err != nil {
		t.Fatal(err)
	}
	resp.Body.Close()
	cancel()
	select {
	case err := <-done:
		if err != nil {
			t.Error(err)
		}
	case <-time.After(10 * time.Second):
		t.Error("Run did not return")
	}
}

func TestVisitForms(t *testing.T) {
	b := newBench(t, nil)
	const at = "/visit/quillmere-library/atrium"
	for form, want := range map[string]int{"act=start&for=1h&note=trim": 303, "act=end": 422, "act=hand-test&kh=4,5": 303, "act=hand-test&kh=many": 422,
		"act=hand-test&kh=4&at=2031-03-02T13:00": 422, "act=serviced&on=2031-03-01": 303, "act=dance": 400} {
		if w := b.ask("POST", at, form); w.Code != want {
			t.Errorf("%s: got %d, want %d", form, w.Code, want)
		}
	}
	if kh, _ := b.alkalinity(&b.Sites[0], &b.Sites[0].Tanks[0]); kh != 4.5 {
		t.Errorf("alkalinity: got %v, want 4.5", kh)
	}
}
