package main

import (
	"time"

	"lentic/store/bench/tanks"
)

// rows in the order of the table.
var rows = []row{
	{name: "bytes-own", title: "Bytes per reading in the whole file, " + tanks.Own.String(), yearly: true, need: peerNeed, run: (*bench).bytesOfYear},
	{name: "bytes-message", title: "Bytes per reading in the whole file, " + tanks.Message.String(), need: loadNeed,
		run: bytesLoaded(tanks.Message, bytesTargets{whole: 0.34, noise: 1.2})},
	{name: "bytes-seconds", title: "Bytes per reading in the whole file, " + tanks.Seconds.String(), need: loadNeed,
		run: bytesLoaded(tanks.Seconds, bytesTargets{whole: 0.28, noise: 1.3, tsdb: 0.14})},
	{name: "growth", title: "File growth over the year", yearly: true, need: fixed(0, 0), run: (*bench).growth},
	{name: "steady", title: "A year in which readings are kept for 60 days, of 120 sensors", need: steadyNeed, run: (*bench).steady},
	{name: "commit-12", title: "Durable commit of 12 readings", need: fixed(200<<20, 10*time.Second), run: (*bench).commitOfTwelve},
	{name: "ingest-600", title: "Durable ingest, 600 readings a commit", need: fixed(1<<30, 20*time.Second),
		run: ingest(600, 30, 20, map[string]check{"plain": atLeast(0.75), "tsdb": atLeast(1.4), "sqlite": atLeast(10)})},
	{name: "ingest-5000", title: "Durable ingest, 5000 readings a commit", need: fixed(2<<30, 60*time.Second),
		run: ingest(5000, 20, 10, map[string]check{"plain": atLeast(0.9), "tsdb": atLeast(2.7), "sqlite": atLeast(45)})},
	{name: "dirtied", title: "Bytes handed to the kernel per reading, 600 a commit", need: fixed(1<<30, 20*time.Second), run: (*bench).dirtied},
	{name: "start", title: "Start to first HTTP 200, a year of data, cold file", yearly: true, need: fixed(100<<20, 5*time.Minute), run: (*bench).starts},
	{name: "charts", title: "One day raw and one year to 800 points, warm and cold", yearly: true, need: (*bench).chartNeed, run: (*bench).chartRows},
	{name: "memory", title: "Anonymous memory after an hour at 60 readings/s", yearly: true, need: fixed(600<<20, 3*time.Minute), run: (*bench).memories},
	{name: "size", title: "Commit of 12 readings, p50", yearly: true, need: fixed(100<<20, 2*time.Minute), run: (*bench).sizes},
	{name: "rollups", title: "Rollups of 1 min + 10 min + 1 h + 1 day a reading", need: fixed(200<<20, time.Minute), run: (*bench).rollups},
	{name: "import", title: "Import of CSV history, durable", need: fixed(1<<30, 3*time.Minute), run: (*bench).imports},
	{name: "puback", title: "publish -> durable -> PUBACK at 600 msg/s, embedded broker", need: fixed(100<<20, time.Minute), run: (*bench).puback},
	{name: "fifty", title: "Embedded broker, 50 connections, durable PUBACK, messages/s", need: fixed(200<<20, 4*time.Minute), run: (*bench).fifty},
	{name: "mosquitto", title: "External Mosquitto, late acks of 5 ms, messages/s", need: fixed(100<<20, time.Minute), run: (*bench).lateAcks},
}

func fixed(disk int64, d time.Duration) func(*bench) need {
	return func(*bench) need { return need{disk, d} }
}

// peerNeed is that of the peers' bytes, some 30 a reading.
func peerNeed(*bench) need { return need{200 << 20, 30 * time.Second} }

// loadNeed is that of a year past the log: half a byte a reading, and 300 ns.
func loadNeed(b *bench) need {
	p := peerNeed(b)
	return need{b.readings()/2 + p.disk, time.Duration(b.readings())*300 + p.time}
}
