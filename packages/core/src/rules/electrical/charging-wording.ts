export const FLAT_CAUSES = [
  'belt slipping or off, alternator or its regulator dead',
  'cable, fuse or plug of the alternator, or a bad earth',
  'the control unit commands no charge: look at codes and at the data line of the alternator',
];
export const FLAT_ADVICE = [
  'Belt, plugs and cables by eye, ignition off; then the voltage at the battery posts at 2000 rpm with a meter.',
  'Voltage drop from alternator to battery and from engine to earth under load: at most 0.2 V each.',
  'Test of alternator and battery on a bench or with a load tester.',
];
export const HIGH_CAUSES = [
  'voltage regulator stuck, or its sensing line open',
  'battery disconnected or with a broken cell',
  'bad earth of the control unit that measures',
];
export const HIGH_ADVICE = [
  'Voltage at the battery posts at 2000 rpm with a meter: is it true?',
  'Earths and sensing line, then alternator and regulator.',
  'Battery: level, heat, smell of acid; replace one that was boiled.',
];
export const WEAK_CAUSES = [
  'battery worn or not charged',
  'corroded or loose leads of battery, starter or earth',
  'a starter that draws too much, or an engine that turns hard',
];
export const WEAK_ADVICE = [
  'Voltage of the battery after a night at rest, then cleaned terminals and the start repeated.',
  'Load test of the charged battery: what the table of limits is made for; a start is only like it.',
  'Voltage drop over leads and earth while cranking; current of the starter.',
];
