package web

import (
	"encoding/json"
	"errors"
	"net/http"
	"time"

	"github.com/gorilla/websocket"

	"lentic/collector/aquarium"
)

// Times of a stream. A browser that does not answer two pings is gone.
const (
	pingEvery  = 30 * time.Second
	pongWithin = 70 * time.Second
	sendWithin = 10 * time.Second
)

// longestReplay is how far back a stream may begin: what is older is drawn from
// /api/v1/readings.
const longestReplay = 31 * 24 * time.Hour

// Origin and Host were checked by the guard, for every request alike.
var upgrader = websocket.Upgrader{
	HandshakeTimeout: sendWithin,
	CheckOrigin:      func(*http.Request) bool { return true },
	Error:            func(http.ResponseWriter, *http.Request, int, error) {}, // the handler answers
}

func (s *Server) apiLive(w http.ResponseWriter, r *http.Request, v visitor) error {
	st, err := s.newStream(r, v)
	if err != nil {
		return err
	}
	if !isUpgrade(r) {
		w.Header().Set("Upgrade", "websocket")
		return refuse(http.StatusUpgradeRequired, "This is a WebSocket: ask for an upgrade.")
	}
	s.live.Add(1)
	defer s.live.Done()
	conn, err := upgrader.Upgrade(w, r, nil)
	if err != nil {
		return badRequest("The WebSocket could not be opened: %s.", err)
	}
	defer conn.Close()
	st.conn = conn
	if err := st.run(); err != nil {
		s.Log.Debug("stream ended", "err", err)
		st.bye(err)
	}
	return nil
}

// stream is one browser's view of what is new.
type stream struct {
	s     *Server
	r     *http.Request
	v     visitor
	scene *scene
	site  aquarium.SiteID  // empty: every site the visitor sees
	tank  aquarium.TankID  // empty: every tank
	since aquarium.Instant // 0: nothing is replayed
	only  bool             // the alarms, and no readings
	conn  *websocket.Conn
	co2   map[aquarium.TankKey]*estimator
	sent  replayed
}

func (s *Server) newStream(r *http.Request, v visitor) (*stream, error) {
	q := r.URL.Query()
	st := &stream{s: s, r: r, v: v, scene: s.scene.Load(), site: aquarium.SiteID(q.Get("site")), tank: aquarium.TankID(q.Get("tank"))}
	switch {
	case st.tank != "":
		if _, _, err := st.scene.findTank(v, q.Get("site"), q.Get("tank")); err != nil {
			return nil, err
		}
	case st.site != "":
		if _, err := st.scene.find(v, q.Get("site")); err != nil {
			return nil, err
		}
	}
	switch only := q.Get("only"); only {
	case "":
	case "alarms":
		st.only = true
	default:
		return nil, badRequest("only is %q: want alarms, or nothing.", cut(only, 40))
	}
	if t := q.Get("since"); t != "" {
		var err error
		if st.since, err = parseTime("since", t); err != nil {
			return nil, err
		}
		if st.since > 0 && s.now().Sub(st.since) > longestReplay {
			return nil, badRequest("since is more than 31 days ago: draw what is older from /api/v1/readings.")
		}
	}
	return st, nil
}

// wants reports whether an item is for this stream.
func (st *stream) wants(it item) bool {
	k := it.sample.Sensor.TankKey()
	if it.alarm != nil {
		k = it.alarm.TankKey()
		if k.Tank == "" && k.Site == st.site { // a whole site's alarm concerns each of its tanks
			return st.v.Sees(k.Site)
		}
	} else if st.only {
		return false
	}
	return st.v.Sees(k.Site) && (st.site == "" || k.Site == st.site) && (st.tank == "" || k.Tank == st.tank)
}

// run joins the feed first and replays from the store second, so that nothing
// falls between; what the feed brings again is left out.
func (st *stream) run() error {
	sub, missed := st.s.Feed.subscribe(st.since, st.wants)
	defer sub.leave()
	gone := st.listen()
	st.startEstimates()
	if st.since > 0 {
		if err := st.replay(missed); err != nil {
			return err
		}
	}
	ping := time.NewTicker(pingEvery)
	defer ping.Stop()
	for {
		select {
		case <-sub.wake:
			items, err := sub.take()
			if err != nil {
				return err
			}
			if err := st.send(st.fresh(items)); err != nil {
				return err
			}
		case <-ping.C:
			if v, err := st.s.identify(st.r); err != nil || v.Role != st.v.Role {
				return errSignIn // signed out, revoked or changed meanwhile
			}
			st.sent.forget(st.s.Now())
			if err := st.conn.WriteControl(websocket.PingMessage, nil, time.Now().Add(sendWithin)); err != nil {
				return err
			}
		case <-st.s.stop:
			return errStopping
		case <-gone:
			return nil
		}
	}
}

// listen reads what a browser must not send, and its pongs, until it is gone.
// The goroutine ends when the connection is closed, which apiLive does.
func (st *stream) listen() (gone chan struct{}) {
	gone = make(chan struct{})
	st.conn.SetReadLimit(4096)
	st.conn.SetReadDeadline(time.Now().Add(pongWithin))
	st.conn.SetPongHandler(func(string) error {
		return st.conn.SetReadDeadline(time.Now().Add(pongWithin))
	})
	st.s.live.Add(1)
	go func() {
		defer st.s.live.Done()
		defer close(gone)
		for {
			if _, _, err := st.conn.NextReader(); err != nil {
				return
			}
		}
	}()
	return gone
}

// liveItem is one item of a message. Site and tank are left out where the
// stream is of one tank.
type liveItem struct {
	Site    aquarium.SiteID   `json:"site,omitempty"`
	Tank    aquarium.TankID   `json:"tank,omitempty"`
	Sensor  aquarium.SensorID `json:"sensor"`
	T       aquarium.Instant  `json:"t"`
	V       float64           `json:"v"`
	Quality string            `json:"quality,omitempty"` // where it is not good
	// NotCounted is there while nothing of the sensor counts, as of the last
	// time its site was judged.
	NotCounted *refusedAnswer `json:"not_counted,omitempty"`
}

type liveAlarm struct {
	Alarm alarmAnswer `json:"alarm"`
}

func (st *stream) item(v aquarium.Sample) liveItem {
	it := liveItem{Sensor: v.Sensor.Sensor, T: v.At, V: v.Value}
	if st.tank == "" {
		it.Site, it.Tank = v.Sensor.Site, v.Sensor.Tank
	}
	if v.Quality != aquarium.Good {
		it.Quality = v.Quality.String()
	}
	return it
}

// send writes one message; nothing to say is no message.
func (st *stream) send(items []any) error {
	if len(items) == 0 {
		return nil
	}
	b, err := json.Marshal(items)
	if err != nil {
		return err
	}
	st.conn.SetWriteDeadline(time.Now().Add(sendWithin))
	return st.conn.WriteMessage(websocket.TextMessage, b)
}

// bye says why the stream ends: come again, or do not.
func (st *stream) bye(err error) {
	code := websocket.CloseInternalServerErr
	switch {
	case errors.Is(err, errStopping):
		code = websocket.CloseServiceRestart
	case errors.Is(err, errSlow):
		code = websocket.CloseTryAgainLater
	case err == errSignIn:
		code = websocket.ClosePolicyViolation
	}
	m := websocket.FormatCloseMessage(code, "")
	st.conn.WriteControl(websocket.CloseMessage, m, time.Now().Add(time.Second))
}
