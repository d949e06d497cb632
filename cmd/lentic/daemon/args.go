package daemon

import (
	"time"

	"lentic/cmd/lentic/config"
	"lentic/collector/aquarium"
)

// Arguments of the operations, as they cross the control socket.

// ReloadArgs name the file that is meant, as an absolute path.
type ReloadArgs struct{ File string }

// VisitArgs begin or end a visit.
type VisitArgs struct {
	Site aquarium.SiteID
	Tank aquarium.TankID
	For  time.Duration `json:",omitempty"` // how long at most
	Note string        `json:",omitempty"`
}

// HandTestArgs record an alkalinity in dKH; At 0 is now.
type HandTestArgs struct {
	Site aquarium.SiteID
	Tank aquarium.TankID
	KH   float64
	At   aquarium.Instant
}

// CalibrateArgs record what an electrode gave in buffers; At 0 is now.
type CalibrateArgs struct {
	Site        aquarium.SiteID
	Tank        aquarium.TankID
	Calibration aquarium.Calibration
	At          aquarium.Instant
	Note        string `json:",omitempty"`
}

// ServicedArgs note a service visit; At 0 is now.
type ServicedArgs struct {
	Site aquarium.SiteID
	Tank aquarium.TankID
	At   aquarium.Instant
	Note string
}

// ReleaseArgs release what a gateway's wrong clock had set aside.
type ReleaseArgs struct {
	Site    aquarium.SiteID // empty: of any
	Gateway aquarium.GatewayID
	Offset  time.Duration
}

// TestTextArgs name who is to get a test text.
type TestTextArgs struct{ To aquarium.PersonID }

// ExportArgs choose readings: From <= time < To.
type ExportArgs struct {
	Site     aquarium.SiteID
	Tank     aquarium.TankID
	Sensor   aquarium.SensorID // empty: all
	From, To aquarium.Instant
	Quality  bool
	// Corrected spreads the drift of pH electrodes back over the time in
	// which it grew.
	Corrected bool
}

// BacktestArgs choose the stored readings to judge again.
type BacktestArgs struct {
	From, To aquarium.Instant
	Set      []config.Set `json:",omitempty"` // to be tried
	JSON     bool
	Summary  bool // that only
	Explain  bool `json:",omitempty"` // what each alarm rests on
}

// UserArgs make and remove accounts and tokens.
type UserArgs struct {
	Name     string
	Password string            `json:",omitempty"`
	Role     string            `json:",omitempty"`
	Sites    []aquarium.SiteID `json:",omitempty"`
	Label    string            `json:",omitempty"`
}
