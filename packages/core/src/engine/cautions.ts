/** What every assessment says, whatever it found. */
export const GENERAL_CAUTIONS: readonly string[] = Object.freeze([
  'Results are indications from recorded data. They support, and never replace, an inspection by a qualified technician; the maker’s limits and local law come first.',
  'A recording cannot see corrosion, cracks, leaks or play.',
  'Recording on the move is done by a passenger or unattended. Full-load and launch phases only on a closed course or a dynamometer, and within the law.',
  'Hot fluids and turning parts burn and catch. A car in the air stands only on rated stands.',
  'Removing or defeating emission control equipment is unlawful on public roads in most places.',
]);

/** When a passenger stops a recording drive at once. */
export const ABORT_CAUTIONS: readonly string[] = Object.freeze([
  'Stop the run at once on: oil-pressure warning (engine off), flashing engine lamp, coolant above 120 °C, transmission fluid above 135 °C, lambda more than 0.1 over target under boost, knock retard of 8° or more, burning smell.',
]);
