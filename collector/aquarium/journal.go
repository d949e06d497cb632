package aquarium

// EntryKind is what a journal entry records.
type EntryKind string

const (
	// Visit: someone is working at the tank, At to Until.
	Visit EntryKind = "visit"
	// HandTest: alkalinity measured by hand; counts from At on.
	HandTest EntryKind = "hand-test"
	// Deaf: lentic was not listening, At to Until; silence then proves
	// nothing.
	Deaf EntryKind = "deaf"
	// Configured: a configuration was accepted at At.
	Configured EntryKind = "configured"
	// Serviced: a service visit was noted with its date; trends are shown
	// from here.
	Serviced EntryKind = "serviced"
	// Calibrated: an electrode was in buffers at At; Calibration says what it
	// gave.
	Calibrated EntryKind = "calibration"
)

// Entry is one line of the journal: what people and lentic did that readings
// cannot tell. Tank is empty where the whole site is meant, Site too where
// lentic itself is.
type Entry struct {
	ID    string    `json:"id"`
	Kind  EntryKind `json:"kind"`
	Site  SiteID    `json:"site,omitempty"`
	Tank  TankID    `json:"tank,omitempty"`
	At    Instant   `json:"at"`
	Until Instant   `json:"until,omitempty"` // end of a visit or of deafness; 0: not yet known
	By    PersonID  `json:"by,omitempty"`
	KH    float64   `json:"kh,omitempty"` // dKH, of a hand test
	Note  string    `json:"note,omitempty"`
	// Calibration is that of a Calibrated entry, else nil. It is never changed.
	Calibration *Calibration `json:"calibration,omitempty"`
}

// Covers reports whether the entry's stretch of time includes t: from At on,
// up to and without Until where that is known.
func (e Entry) Covers(t Instant) bool {
	return t >= e.At && (e.Until == 0 || t < e.Until)
}

// Concerns reports whether the entry is about that tank.
func (e Entry) Concerns(k TankKey) bool {
	return (e.Site == "" || e.Site == k.Site) && (e.Tank == "" || e.Tank == k.Tank)
}
