package main

import "time"

// rows in the order of the table.
var rows = []row{
	{name: "commit-12", title: "Durable commit of 12 readings", need: fixed(200<<20, 10*time.Second), run: (*bench).commitOfTwelve},
	{name: "ingest-600", title: "Durable ingest, 600 readings a commit", need: fixed(1<<30, 20*time.Second), run: ingest(600, 30, 20, 0.75, 1.4, 10)},
	{name: "ingest-5000", title: "Durable ingest, 5000 readings a commit", need: fixed(2<<30, 60*time.Second), run: ingest(5000, 20, 10, 0.9, 2.7, 45)},
	{name: "dirtied", title: "Bytes handed to the kernel per reading, 600 a commit", need: fixed(1<<30, 20*time.Second), run: (*bench).dirtied},
}

func fixed(disk int64, d time.Duration) func(*bench) need {
	return func(*bench) need { return need{disk, d} }
}
