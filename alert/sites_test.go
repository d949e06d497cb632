package alert

import (
	"fmt"
	"testing"
	"time"

	"lentic/collector/aquarium"
)

// Sites are judged again side by side; each alarm must still be found once,
// and a second start must find nothing new.
func TestManySitesStartTogether(t *testing.T) {
	const sites = 12
	inWorld(t, func(w *world) {
		w.setup.Sites = nil
		for i := range sites {
			s := site()
			s.ID = aquarium.SiteID(fmt.Sprintf("site-%d", i))
			w.setup.Sites = append(w.setup.Sites, s)
			k := aquarium.SensorKey{Site: s.ID, Tank: atrium, Sensor: "flow-a"}
			w.history.put(aquarium.Reading{Sensor: k, At: w.at().Add(-30 * time.Minute), Value: 0})
		}
		for _, start := range []string{"first start", "next start"} {
			w.up()
			w.pass(12 * time.Second)
			as, err := w.desk.Alarms(Filter{Standing: true})
			if err != nil {
				t.Fatal(err)
			}
			at := map[aquarium.SiteID]int{}
			for _, a := range as {
				at[a.Site]++
			}
			if len(as) != sites || len(at) != sites {
				t.Errorf("%s: got %d alarms at %d sites, want %d, one each", start, len(as), len(at), sites)
			}
			w.wantTexts("keeper", sites)
			w.down()
			w.pass(time.Minute)
		}
	})
}
