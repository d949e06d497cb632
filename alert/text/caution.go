package text

// Cautions, shown where somebody is about to act. Figures come from the sources
// named; what is a rule of the trade says so.
const (
	// NIOSH, Immediately Dangerous to Life or Health, carbon dioxide (1994):
	// IDLH 40,000 ppm; recommended limits 5,000 ppm over a shift and 30,000 ppm
	// for 15 minutes. 1.53 is the ratio of the molar masses, 44.01 to 28.96.
	cautionGas = "CO2 has no smell, is half as heavy again as air, and gathers low: in cupboards, plinths and cellars. " +
		"Air the place before you reach in, and never put your head in. Published limits are 5,000 ppm over a working day and 30,000 ppm for 15 minutes; " +
		"40,000 ppm is immediately dangerous. Dizzy, short of breath or a headache: get out, keep others out, call for help."
	cautionCylinder = "A cylinder is under high pressure. Shut its valve by hand and gently; do not loosen fittings, and leave a leaking one to its supplier."
	// General practice for aquariums up to 250 V, the subject of IEC 60335-2-55.
	cautionMains = "Water and mains: dry hands, dry feet, one hand. Do not touch a plug, strip or machine that is wet or stands in water; " +
		"cut its circuit at the board, if that can be reached dry, or wait for an electrician."
	cautionFloor = "Wet floors are slippery, and may be live. Keep visitors away; mind rooms below."
	// EN 1717 sorts water by what it can do to drinking water.
	cautionBackflow = "Tank and waste water must not get back into the drinking water: no hose left in the tank or the waste, and no connection but the one the installer made. Local water rules decide."
	cautionAnimals  = "Change nothing by a lot at once: fish and shrimps bear slow changes of pH, temperature and hardness far better than quick ones. Gasping at the surface or lying on the ground: air the water first."
	cautionTrade    = "Local codes and licensed trades decide on gas, water and electricity. lentic watches and advises; it replaces no interlock on site."
)
