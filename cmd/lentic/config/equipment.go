package config

import "lentic/collector/aquarium"

// equipment reads every part; the sensors it names must be the tank's and
// measure what that part needs.
func (r *tankReader) equipment(n *node) {
	path := r.path
	r.path = path[:len(path)-1] // "equipment" says nothing beside the part's name
	defer func() { r.path = path }()
	e := &r.t.Equipment
	r.object(n,
		may("co2", func(n *node) { e.CO2 = r.co2(n) }),
		may("top_off", func(n *node) { e.TopOff = r.topOff(n) }),
		may("filters", r.filters),
		may("reservoir", func(n *node) { e.Reservoir = r.reservoir(n) }),
		may("drain", func(n *node) { e.Drain = r.drain(n) }),
		may("heater", func(n *node) {
			h := aquarium.Heater{}
			r.heat(n, &h.Temperature, &h.Switch, &h.Target)
			e.Heater = &h
		}),
		may("cooling", func(n *node) {
			c := aquarium.Cooling{}
			r.heat(n, &c.Temperature, &c.Switch, &c.Target)
			e.Cooling = &c
		}),
		may("lights", func(n *node) {
			e.Lights = &aquarium.LightsSwitch{}
			r.object(n, must("switch", r.role(&e.Lights.Switch, aquarium.Switch)))
		}),
		may("power", func(n *node) {
			e.Power = &aquarium.PowerSupply{}
			r.object(n, must("mains", r.role(&e.Power.Mains, aquarium.Switch)))
		}),
		may("floor", func(n *node) {
			e.Floor = &aquarium.Floor{}
			r.object(n, must("wet", r.role(&e.Floor.Wet, aquarium.Switch)))
		}),
		may("room", func(n *node) {
			e.Room = &aquarium.Room{}
			r.object(n,
				may("temperature", r.role(&e.Room.Temperature, aquarium.Temperature)),
				may("humidity", r.role(&e.Room.Humidity, aquarium.Humidity)),
				may("co2", r.role(&e.Room.CO2, aquarium.Gas)))
		}),
		may("water_change", func(n *node) { e.WaterChange = r.waterChange(n) }),
		may("dosers", r.dosers),
	)
	if e.Heater != nil && e.Cooling != nil && e.Heater.Target > 0 && e.Cooling.Target > 0 && e.Cooling.Target < e.Heater.Target {
		r.bad(n.get("cooling"), "cooling: its target %s is below the heater's, %s: they would work against each other", digits(e.Cooling.Target), digits(e.Heater.Target))
	}
}

// role is a sensor of the tank that measures one of the quantities.
func (r *tankReader) role(into *aquarium.SensorID, qs ...aquarium.Quantity) func(*node) {
	return func(n *node) {
		id, ok := r.text(n)
		if !ok {
			return
		}
		s := r.t.Sensor(aquarium.SensorID(id))
		if s == nil {
			ids := make([]string, len(r.t.Sensors))
			for i := range r.t.Sensors {
				ids[i] = string(r.t.Sensors[i].ID)
			}
			r.bad(n, "sensor %s is not one of this tank%s", short(id), meant(id, ids))
			return
		}
		*into = s.ID
		if s.Quantity == "" {
			return // its own mistake is enough
		}
		for _, q := range qs {
			if s.Quantity == q {
				return
			}
		}
		want := string(qs[0])
		if qs[0] == aquarium.Volume {
			want = "volume, or litres_per_mm with it"
		}
		r.bad(n, "sensor %s measures %s: want %s", short(id), s.Quantity, want)
	}
}

func (r *tankReader) co2(n *node) *aquarium.CO2 {
	c := &aquarium.CO2{}
	r.object(n,
		may("ph", r.role(&c.PH, aquarium.PH)),
		may("target", func(n *node) { c.Target = r.number(n, 4, 9, "pH") }),
		may("band", func(n *node) { c.Band = r.number(n, 0.005, 1, "pH to either side") }),
		may("valve", r.role(&c.Valve, aquarium.Switch)),
		may("hours", func(n *node) { c.Hours = r.span(n) }),
		may("cylinder", func(n *node) {
			c.Cylinder = &aquarium.Cylinder{}
			r.object(n,
				must("mass", r.role(&c.Cylinder.Mass, aquarium.Mass)),
				must("tare_kg", func(n *node) { c.Cylinder.TareKG = r.number(n, 0, 200, "kg") }))
		}),
	)
	for _, key := range []string{"target", "band"} {
		if v := n.get(key); v != nil && n.get("ph") == nil {
			r.bad(v, "%s without ph: want the sensor it is held by", key)
		}
	}
	if v := n.get("band"); v != nil && n.get("target") == nil {
		r.bad(v, "band without target: want the pH it lies around")
	}
	if l := r.t.Limits.PH; l != nil && c.Target > 0 && (c.Target <= l.Lo || c.Target >= l.Hi) {
		r.bad(n.get("target"), "target %s lies outside this tank's limits, %s to %s: want it inside", digits(c.Target), digits(l.Lo), digits(l.Hi))
	}
	return c
}

func (r *tankReader) topOff(n *node) *aquarium.TopOff {
	t := &aquarium.TopOff{}
	r.object(n,
		may("level", r.role(&t.Level, aquarium.Level)),
		may("band_mm", func(n *node) { t.BandMM = r.number(n, 0.5, 200, "mm to either side") }),
		may("low", r.role(&t.Low, aquarium.Switch)),
		may("high", r.role(&t.High, aquarium.Switch)),
		may("pump", r.role(&t.Pump, aquarium.Switch)),
		may("rate_l_h", func(n *node) { t.RateLH = r.number(n, 0.1, 10000, "l/h") }),
		may("from", r.role(&t.From, aquarium.Volume)),
	)
	if b := n.get("band_mm"); b != nil && n.get("level") == nil {
		r.bad(b, "band_mm without level: want the sensor it is held by")
	}
	if t.Low != "" && t.Low == t.High {
		r.bad(n.get("high"), "low and high are the same sensor: want two floats")
	}
	return t
}

func (r *tankReader) filters(n *node) {
	seen := map[string]bool{}
	r.each(n, "filters", func(_ int, n *node) {
		f := aquarium.Filter{}
		r.in(label("filter", n), func() {
			r.object(n,
				must("id", func(n *node) { f.ID = aquarium.EquipmentKey(r.fresh(n, seen)) }),
				may("flow", r.role(&f.Flow, aquarium.Flow)),
				may("rated_l_h", func(n *node) { f.RatedLH = r.number(n, 1, 100000, "l/h") }),
				may("service_limit", func(n *node) { f.ServiceLimit = r.number(n, 0.05, 0.99, "a share of the flow") }),
				may("stops", func(n *node) { r.texts(n, func(n *node) { f.Stops = append(f.Stops, r.stop(n)) }) }),
			)
		})
		r.t.Equipment.Filters = append(r.t.Equipment.Filters, f)
	})
}

func (r *tankReader) stop(n *node) aquarium.Stop {
	s, ok := r.text(n)
	if !ok {
		return aquarium.Stop{}
	}
	st, err := parseStop(s)
	if err != nil {
		r.bad(n, "%v", err)
	}
	return st
}

// texts reads one text or a list of them.
func (r *reader) texts(n *node, read func(*node)) {
	if n.kind != list {
		read(n)
		return
	}
	for _, item := range n.items {
		read(item)
	}
}

func (r *tankReader) reservoir(n *node) *aquarium.Reservoir {
	v := &aquarium.Reservoir{}
	r.object(n,
		may("volume", r.role(&v.Volume, aquarium.Volume)),
		may("capacity_l", func(n *node) { v.CapacityL = r.number(n, 1, 50000, "litres") }),
		may("refill", r.role(&v.Refill, aquarium.Switch)),
		may("production_l_h", func(n *node) { v.ProductionLH = r.number(n, 0.1, 10000, "l/h") }),
	)
	return v
}

func (r *tankReader) drain(n *node) *aquarium.Drain {
	d := &aquarium.Drain{}
	mm := func(into *float64) func(*node) {
		return func(n *node) { *into = r.number(n, 0, 5000, "mm above the bottom") }
	}
	r.object(n,
		may("level", r.role(&d.Level, aquarium.Level)),
		may("start_mm", mm(&d.StartMM)),
		may("stop_mm", mm(&d.StopMM)),
		may("overflow_mm", mm(&d.OverflowMM)),
		may("pump", r.role(&d.Pump, aquarium.Switch)),
	)
	start, stop, over := n.get("start_mm"), n.get("stop_mm"), n.get("overflow_mm")
	if start != nil && stop != nil && d.StopMM >= d.StartMM {
		r.bad(stop, "the pump stops at %s mm and starts at %s mm: want stop_mm below start_mm", digits(d.StopMM), digits(d.StartMM))
	}
	if over != nil && start != nil && d.StartMM >= d.OverflowMM {
		r.bad(over, "the container overflows at %s mm and its pump starts at %s mm: want overflow_mm above start_mm", digits(d.OverflowMM), digits(d.StartMM))
	}
	return d
}

// heat reads a heater or a cooler.
func (r *tankReader) heat(n *node, temperature, sw *aquarium.SensorID, target *float64) {
	r.object(n,
		may("temperature", r.role(temperature, aquarium.Temperature)),
		may("switch", r.role(sw, aquarium.Switch)),
		may("target", func(n *node) { *target = r.number(n, 5, 40, "Cel") }),
	)
	if l := r.t.Limits.Temperature; l != nil && *target > 0 && (*target <= l.Lo || *target >= l.Hi) {
		r.bad(n.get("target"), "target %s lies outside this tank's limits, %s to %s: want it inside", digits(*target), digits(l.Lo), digits(l.Hi))
	}
}

func (r *tankReader) waterChange(n *node) *aquarium.WaterChange {
	w := &aquarium.WaterChange{}
	r.object(n,
		may("out", r.role(&w.Out, aquarium.Switch)),
		may("in", r.role(&w.In, aquarium.Switch)),
		may("litres", func(n *node) { w.Litres = r.number(n, 0.1, 10000, "litres") }),
		may("at", func(n *node) {
			r.texts(n, func(n *node) {
				s, ok := r.text(n)
				if !ok {
					return
				}
				t, err := parseWeekTime(s)
				if err != nil {
					r.bad(n, "%v", err)
					return
				}
				w.At = append(w.At, t)
			})
		}),
	)
	return w
}

func (r *tankReader) dosers(n *node) {
	seen := map[string]bool{}
	r.each(n, "dosers", func(_ int, n *node) {
		d := aquarium.Doser{}
		r.in(label("doser", n), func() {
			r.object(n,
				must("id", func(n *node) { d.ID = aquarium.EquipmentKey(r.fresh(n, seen)) }),
				may("switch", r.role(&d.Switch, aquarium.Switch)),
				may("ml_per_day", func(n *node) { d.MLPerDay = r.number(n, 0.01, 10000, "ml") }),
			)
		})
		r.t.Equipment.Dosers = append(r.t.Equipment.Dosers, d)
	})
}
