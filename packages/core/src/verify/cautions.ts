/** What every sign-off says to the person at the map. */
export const TUNER_CAUTIONS: readonly string[] = Object.freeze([
  'The map is the tuner’s responsibility. A limit held here is a limit held in these pulls, on this fuel and in this weather; the maker’s limits and local law come first.',
  'Never an all-wheel-drive car on single-axle rollers, nor towed with one axle down, unless the maker’s decoupling procedure is followed. Restraint, fan, exhaust extraction, and tyres rated for the speed.',
  'Air-meter and filling changes also move load, ignition look-up and reported torque, and with it the clutch pressure: verify again after each.',
  'Same fuel before and after. No ignition advance is ever suggested.',
  'High-pressure fuel and 48 V or high-voltage parts: take off pressure, or isolate, before work.',
]);
