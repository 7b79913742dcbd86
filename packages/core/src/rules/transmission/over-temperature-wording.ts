import type { Limit, Severity } from '../rule.js';
import { clockTime, counted, figure } from '../wording.js';
import type { FluidEvent, Reading } from './over-temperature-reading.js';

export const PLACES = {
  sump: 'in the sump',
  'clutch-outlet': 'at the clutch outlet',
  'cooler-inlet': 'at the cooler inlet',
};

export function notesOf(
  seen: readonly { readonly reading: Reading }[],
  kind: string | undefined,
  placeAssumed: boolean,
): string[] {
  const notes: string[] = [];
  const { place } = seen[0]!.reading;
  if (placeAssumed) notes.push('No profile says where the fluid is measured: taken as the sump.');
  if (kind === undefined && place === 'sump') {
    notes.push('Kind of transmission unknown: dual-clutch limits used. A converter transmission bears 5 K more.');
  }
  if (kind === 'manual' && place === 'sump') {
    notes.push('Manual gearbox: judged by the limits of dual-clutch fluid for want of its own.');
  }
  if (place === 'sump') {
    notes.push(
      'Fluid ageing is a comparison with steady 79.4 °C by a trade chart made for conventional automatic fluid; it carries no level.',
    );
  }
  const setAside = seen.reduce((total, { reading }) => total + reading.setAside, 0);
  const leaps = seen.reduce((total, { reading }) => total + reading.leaps, 0);
  if (setAside > 0 || leaps > 0) {
    notes.push(
      `The reading leapt as no fluid can${leaps > 0 ? ` ${counted(leaps, 'time')} and stayed there` : ''}${setAside > 0 ? `; ${figure(setAside)} s were set aside` : ''}. Look at the sensor's connector.`,
    );
  }
  return notes;
}

export function foundSummary(
  { event, severity, reading }: { event: FluidEvent; severity: Severity; reading: Reading },
  limit: Limit,
  seconds: number,
  events: number,
): string {
  return `Fluid ${PLACES[reading.place]} reached ${figure(event.peak)} °C at ${clockTime(event.peakAt)} and was above the ${severity} limit of ${figure(limit.value)} °C for ${figure(seconds)} s; ${counted(events, 'event')} in all.`;
}

export const COOLER_CAUSES = [
  'fluid cooler blocked, bypassed or too small for the power',
  'cooler thermostat or bypass valve stuck',
  'fluid level or fluid flow too low',
  'clutches dragging or slipping at constant speed',
];
export const COOLER_ADVICE = [
  'Check fluid level and condition at the temperature the maker states.',
  'Look through the cooler for leaves, bent fins and kinked lines; compare inlet and outlet temperature.',
  'Repeat the motorway stretch after cleaning.',
];

export function causesOf(seen: readonly { readonly reading: Reading }[], coolerWeak: boolean): string[] {
  const launched = seen.some(({ reading }) => reading.heatingPerStart.some((rise) => rise >= 5));
  const loaded = seen.some(({ reading }) => reading.heatingPerPull.some((rise) => rise >= 5));
  const causes: string[] = [];
  if (launched) causes.push('repeated full-load starts without time to cool');
  if (coolerWeak) causes.push(COOLER_CAUSES[0]!);
  if (loaded) causes.push('long full-load driving on a fluid cooler sized for the standard power');
  if (!launched) causes.push('clutches slipping under load, or creeping and hill holding on the clutches');
  if (!coolerWeak) causes.push('fluid cooler blocked or its bypass stuck');
  causes.push('fluid level low, fluid aged or of the wrong kind');
  return causes;
}

export function adviceOf(severity: Severity, leapt: boolean): string[] {
  const advice = [
    'Let the fluid cool below 90 °C before any further load.',
    'Check fluid level, colour and smell; burnt fluid or friction material in it means an internal inspection.',
    'Look at cooler, lines and bypass; compare inlet and outlet temperature.',
  ];
  if (severity !== 'watch')
    advice.push('Change fluid and filter, read out the clutch adaptations and repeat the drive.');
  if (severity === 'stop')
    advice.unshift('Do not drive hard again before a qualified technician has looked at the transmission.');
  if (leapt) advice.unshift('Rule out the sensor first: the reading leapt; look at its connector and wiring.');
  return advice;
}
