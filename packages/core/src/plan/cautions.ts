/** On the seller's ground. */
export const SITE_CAUTIONS: readonly string[] = Object.freeze([
  'Have the owner’s consent for reading the control units, for recording and for every phase; show him this plan.',
  'Read codes and stored values before anything else. Clear nothing.',
  'Read-only services: no actuator tests and no relearning, least of all on the move.',
  'Lay the cable of the logger clear of the pedals and of the driver’s feet.',
  'Never run the engine in a closed space.',
  'Drive hard only with engine oil at 80 °C or more and transmission fluid at 60 °C or more; cool down for two minutes before switching off.',
  'At most two launches with five minutes of cooling between them, and only if they are asked for; hold against the brake for three seconds at most. This plan asks for none.',
]);

/** For phases at the limit of grip. */
export const CLOSED_COURSE =
  'Only on a closed course, within the law, with the recording watched by a passenger or left alone.';
/** For phases at full load. */
export const COURSE_OR_ROLLERS =
  'Only on a closed course or a dynamometer, within the law, with the recording watched by a passenger or left alone.';
/** For any car on rollers. */
export const DYNAMOMETER = 'On a dynamometer: restraint, fan, extraction and tyres rated for the speed.';
/** For a car that drives all wheels, or may. */
export const ROLLERS =
  'Never an all-wheel-drive car on single-axle rollers, nor towed with one axle down, unless the maker’s decoupling procedure is followed.';
