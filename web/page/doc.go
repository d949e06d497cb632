// Package page turns what lentic knows about tanks into pages to be read: at
// three in the morning, with wet hands, on a small telephone, or on paper by a
// client. It exists so that wording, units, times and drawings can be tested
// without a server, a store or a clock.
//
// There is one struct for each page, with exactly the data it shows, and one
// Render. A caller fills values and never formats: numbers come in the first
// unit of their quantity, times as Instants, names as the configuration has
// them. What a page says of them (the first sentence, the order of the tanks,
// the strip, the change per week) is decided here.
//
// Everything essential is in the HTML. Script only adds the moving strips.
//
// Values are read and never changed, so Render may be called by many at once
// with values of their own.
package page
