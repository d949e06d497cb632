package aquarium

// Reading is one value of one sensor at one time, exactly as it was received:
// in the unit it came in, before scale, offset and calibration. (Sensor, At)
// is its identity: the first value for it stands.
type Reading struct {
	Sensor SensorKey
	At     Instant
	Value  float64 // finite; 1 or 0 for switches
	Unit   Unit    // as sent, else the sensor's configured unit
	// Retimed marks a reading that was set aside for an impossible time and
	// released with an offset.
	Retimed bool
}

// Quality says whether a sample may be judged. Everything is stored and drawn;
// only Good is judged.
type Quality uint8

const (
	Good       Quality = iota
	OutOfRange         // beyond what the quantity can be
	Spike              // a lone outlier
	Frozen             // unchanged for longer than its own noise allows
	InAir              // the probe follows the room and not the tank
	Electrical         // steps with a switched load
	Retimed            // its time was corrected by hand
)

var qualityWords = [...]string{"good", "range", "spike", "frozen", "air", "electrical", "retimed"}

func (q Quality) String() string {
	if int(q) < len(qualityWords) {
		return qualityWords[q]
	}
	return "unknown"
}

// Judged reports whether a sample of this quality may raise an alarm. A
// retimed one may: its value is as good as any.
func (q Quality) Judged() bool { return q == Good || q == Retimed }

// Sample is what a reading means: its value in the first unit of its quantity,
// after scale, offset, counter and calibration.
type Sample struct {
	Sensor  SensorKey
	At      Instant
	Value   float64
	Quality Quality
}

// Sum is what the readings of a sensor, in one unit and stretch of time, come
// to. Like readings they are as received.
type Sum struct {
	At   Instant // where the stretch begins
	Unit Unit
	// Good readings count, Others do not: they are beyond what the sensor's
	// quantity can be.
	Good, Others int
	// Min, Max and Sum are of those that count; without any they are 0. The
	// sum of decimals is exact to the last place of its float.
	Min, Max, Sum float64
}

// Aside is a record whose time cannot be right. It is kept with the time it
// claimed and the time it arrived, until it is released with an offset.
type Aside struct {
	Reading Reading // At is the time it claimed
	Gateway GatewayID
	Arrived Instant
}

// Unclaimed is a message on a topic that no sensor has, kept whole so that it
// can be adopted when one is given that name.
type Unclaimed struct {
	Topic   string
	Payload []byte
	Arrived Instant
}

// Refusal is a payload, or a record of one, that could not be taken, and why.
type Refusal struct {
	Topic   string
	Reason  Reason
	Detail  string // what was wrong and what is expected, for people
	Payload []byte // at most the first 1 KiB
	Arrived Instant
	Source  string // the connection it came by, as far as known
}

// Reason is why something was refused, as counted in the metrics.
type Reason string

const (
	ReasonTopic    Reason = "topic"    // not a topic of ours, or a forbidden one
	ReasonForeign  Reason = "foreign"  // not this gateway's site
	ReasonSize     Reason = "size"     // payload or record count above the limit
	ReasonSyntax   Reason = "syntax"   // neither a number nor a SenML pack
	ReasonPack     Reason = "pack"     // a pack its own standard refuses
	ReasonKind     Reason = "kind"     // a string, data or sum where a number is meant
	ReasonValue    Reason = "value"    // NaN, an infinity, or no value
	ReasonUnit     Reason = "unit"     // a unit the quantity is not taken in
	ReasonName     Reason = "name"     // a record of a pack that no sensor answers to
	ReasonRetained Reason = "retained" // a stored message without a time of its own
	ReasonPointer  Reason = "pointer"  // the configured pointer finds nothing there
)

// Batch is what one group commit writes: all of it is on disk before anything
// in it is acknowledged.
type Batch struct {
	Readings  []Reading
	Aside     []Aside
	Unclaimed []Unclaimed
	Refused   []Refusal
	Arrived   Instant // when the batch was closed, by lentic's clock
}

// Len is the number of things to write.
func (b *Batch) Len() int {
	return len(b.Readings) + len(b.Aside) + len(b.Unclaimed) + len(b.Refused)
}

// Outcome counts what became of a batch's readings.
type Outcome struct {
	Fresh     []Reading // stored now, in the order given
	Repeats   int       // the same value was already there
	Conflicts int       // another value was already there and stands
}
