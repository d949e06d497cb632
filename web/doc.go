// Package web shows what lentic knows, to people as pages and to programs as an
// API, and takes what they want done.
//
// It decides who may see and do what: every answer, stream and metric passes
// one guard (guard.go) that looks at Host, Origin and identity, and is filtered
// by the visitor's role. What pages say is decided in web/page, what alarms say
// in alert/text; here their data is gathered.
//
// Promises: a handler returns an error and one place answers it (problem.go):
// programs get RFC 9457 problem details, people a page with the next step, and
// the log what really happened. A browser that cannot keep up is dropped and
// never waited for (feed.go); it comes back and asks for what it missed.
//
// The package names no database and no alarm desk: what it needs of them are
// the small interfaces of needs.go.
package web
