// Command bare is a web server and a broker with nothing behind them, or with
// an open store only: what a start and a memory of lentic are measured beside.
package main

import (
	"flag"
	"fmt"
	"io"
	"log/slog"
	"net/http"
	"os"

	mqtt "github.com/mochi-mqtt/server/v2"
	"github.com/mochi-mqtt/server/v2/hooks/auth"
	"github.com/mochi-mqtt/server/v2/listeners"

	"lentic/store"
)

func main() {
	web := flag.String("web", "127.0.0.1:0", "`address` of /healthz")
	broker := flag.String("mqtt", "127.0.0.1:0", "`address` of the broker")
	db := flag.String("db", "", "`file` of a store to open first")
	flag.Parse()
	if err := run(*web, *broker, *db); err != nil {
		fmt.Fprintln(os.Stderr, "bare:", err)
		os.Exit(3)
	}
}

func run(web, broker, db string) error {
	if db != "" {
		s, err := store.Open(db, store.Options{Reserve: -1})
		if err != nil {
			return err
		}
		defer s.Close()
	}
	s := mqtt.New(&mqtt.Options{Logger: slog.New(slog.DiscardHandler)})
	if err := s.AddHook(new(auth.AllowHook), nil); err != nil {
		return err
	}
	if err := s.AddListener(listeners.NewTCP(listeners.Config{ID: "tcp", Address: broker})); err != nil {
		return err
	}
	if err := s.Serve(); err != nil {
		return err
	}
	http.HandleFunc("/healthz", func(w http.ResponseWriter, _ *http.Request) { io.WriteString(w, "ok\n") })
	return http.ListenAndServe(web, nil)
}
