import { exceeds } from '../../derived/exceeds.js';
import type { Shifts } from '../../derived/shift-events.js';
import { quantile } from '../../math/quantile.js';
import { confidenceOf } from '../confidence.js';
import { levelOf, limitOf, rankOf } from '../ladder.js';
import type { Context, Judgement, Limit, Measure, Observed, RuleEvent, Severity } from '../rule.js';
import { clockTime, counted, figure, nearWhenBeyond } from '../wording.js';
import { type JudgedShift, judgedShifts, LIKE, shiftedByHand } from './shift-quality-reading.js';

export interface ShiftObservation {
  readonly shifts: Shifts;
  readonly channels: readonly { readonly certainty: 'certain' | 'likely' | 'inferred' | 'user' }[];
}

/** Fresh shaft speeds per second from which flare and duration are judged, and from which only gross ones are. */
export const FINE_HZ = 20;
const COARSE_HZ = 10;
/** What shows at the coarse rate: rpm of flare, seconds of duration (rule catalogue). */
const COARSE_FLARE = 400;
const COARSE_DURATION = 1;
/** Share of shifts beyond the absolute limit, and shifts it takes. */
const SHARE = 0.3;
/** Shifts out of the usual that make a finding. */
const TIMES = 2;

interface Found {
  readonly shift: JudgedShift;
  readonly what: 'flare' | 'slow' | 'absolute';
  readonly severity: Severity;
  /** What it was held against: rpm of flare, s of duration. */
  readonly limit: number;
  readonly margin: number;
  readonly uncertainty: number;
}

export function judgeShifts(observed: readonly Observed<ShiftObservation>[], context: Context): Judgement {
  const { kind } = context.vehicle.transmission;
  const limits = context.limits(kind === undefined ? {} : { kind });
  const drives = observed.map(({ input, observation }) => ({ input, shifts: observation.shifts }));
  const hz = Math.max(...drives.map(({ shifts }) => shifts.hz));
  const usable = drives.filter(({ shifts }) => shifts.hz >= 0.95 * COARSE_HZ);
  const fine = usable.filter(({ shifts }) => shifts.hz >= 0.95 * FINE_HZ);
  const fineInputs = new Set(fine.map(({ input }) => input));
  const judged = judgedShifts(usable, context.vehicle);
  const steady = judged.filter((shift) => shift.steady);
  const sharp = steady.filter(({ input }) => fineInputs.has(input));
  const found = flaresOf(judged, fineInputs, limits);
  found.push(...slowOf(steady, fineInputs, kind), ...absoluteOf(sharp, limits.absolute));
  const base = {
    measures: measuresOf(judged),
    limits: Object.values(limits),
    notes: notesOf(kind),
    details: { shifts: steady.slice(0, LISTED).map(listing) },
  };
  if (kind === undefined && shiftedByHand(judged)) {
    return {
      ...base,
      outcome: 'unproven',
      summary:
        'The shifts take half a second and more and let the drive go, as when a driver shifts by hand; how quickly a hand shifts is no matter of the gearbox.',
      missing: { channels: [], conditions: ['kind of transmission in the vehicle profile'] },
    };
  }
  const worst = found.reduce<Found | undefined>((a, b) => (a === undefined || worse(b, a) ? b : a), undefined);
  const channels = observed.flatMap(({ observation }) => observation.channels);
  if (worst !== undefined) {
    const same = found.filter(({ what }) => what === worst.what);
    return {
      ...base,
      outcome: 'finding',
      severity: worst.severity,
      confidence: confidenceOf({
        margin: worst.margin,
        uncertainty: worst.uncertainty,
        samples: same.length + 1,
        channels,
        doubts: kind === undefined ? [0.85] : [],
      }),
      summary: summaryOf(worst, same.length, limits),
      events: found.map(eventOf),
      causes: worst.what === 'flare' ? FLARE_CAUSES : SLOW_CAUSES,
      advice: ADVICE,
    };
  }
  if (sharp.length < LIKE) {
    const slow = fine.length === 0;
    return {
      ...base,
      outcome: 'unproven',
      summary: slow
        ? `The shaft speed comes fresh at ${figure(hz, 1)} Hz; flare and duration of a shift need ${FINE_HZ} Hz.`
        : `${counted(sharp.length, 'shift')} could be judged, ${LIKE} are needed.`,
      missing: {
        channels: [],
        conditions: slow ? [`engineSpeed at >= ${FINE_HZ} Hz`] : [`>= ${LIKE} shifts with steady pedal and warm fluid`],
      },
    };
  }
  const durations = sharp.map(({ duration }) => duration);
  const flare = Math.max(0, ...judged.filter(({ shows }) => shows).map((shift) => shift.flare));
  const watch = limitOf(limits, 'watch');
  return {
    ...base,
    outcome: 'clear',
    confidence: confidenceOf({
      margin: watch.value - flare,
      uncertainty: Math.max(...sharp.map(({ flareU }) => flareU)),
      samples: sharp.length,
      channels,
      doubts: kind === undefined ? [0.85] : [],
    }),
    summary: `${counted(sharp.length, 'shift')} judged: half within ${figure(quantile(durations, 0.5), 2)} s, the slowest ${figure(Math.max(...durations), 2)} s; the engine ran over by at most ${figure(flare, 0)} rpm (limit ${figure(watch.value, 0)} rpm)${nearWhenBeyond(flare, watch.value)}.`,
  };
}

/** Shifts that the details list, the first of them. */
const LISTED = 500;

/** One shift that was timed: s, and standard uncertainty of the duration. */
function listing({ input, from, to, gearBefore, gearAfter, duration, durationU }: JudgedShift) {
  return { input, from, to, pair: `${gearBefore}-${gearAfter}`, duration, durationU };
}

/** Share of a flare that another shift out of the same gear into the same one shows where it is no spike. */
const AGAIN = 0.5;

/** One sample that stands out may be a spike: a flare shows in two, or the same pair of gears does it again. */
function flaresOf(
  judged: readonly JudgedShift[],
  fine: ReadonlySet<number>,
  limits: Readonly<Record<string, Limit>>,
): Found[] {
  const again = ({ shift }: Found): boolean =>
    judged.some(
      (other) =>
        other !== shift &&
        other.shows &&
        other.gearBefore === shift.gearBefore &&
        other.gearAfter === shift.gearAfter &&
        other.flare - 1.645 * other.flareU > AGAIN * shift.flare,
    );
  return judged
    .flatMap((shift) => flareOf(shift, fine.has(shift.input), limits))
    .filter((found) => found.shift.flareHeld >= 2 || again(found));
}

function flareOf(shift: JudgedShift, fine: boolean, limits: Readonly<Record<string, Limit>>): Found[] {
  const { flare, flareU, shows } = shift;
  if (!shows || (!fine && flare - 1.645 * flareU <= COARSE_FLARE)) return [];
  const severity = levelOf(flare, flareU, limits);
  if (severity === undefined) return [];
  const limit = limitOf(limits, severity).value;
  return [{ shift, what: 'flare', severity, limit, margin: flare - limit, uncertainty: flareU }];
}

/**
 * Behind a converter the engine's fall is the converter's as well as the clutch's: where the turbine speed is not
 * recorded, a shift that is slow for this car counts from this duration (s) only. Common practice, no source.
 */
const SLOW_BEHIND_CONVERTER = 0.8;

function slowOf(steady: readonly JudgedShift[], fine: ReadonlySet<number>, kind: string | undefined): Found[] {
  const slow = steady.flatMap((shift): Found[] => {
    const { duration, durationU, normal, input, shaft } = shift;
    const direct = kind === 'dual-clutch' || shaft !== 'engineSpeed';
    const limit = Math.max(normal, direct ? 0 : SLOW_BEHIND_CONVERTER, fine.has(input) ? 0 : COARSE_DURATION);
    if (Number.isNaN(normal) || exceeds(duration, durationU, limit, '>') !== 'beyond') return [];
    return [{ shift, what: 'slow', severity: 'watch', limit, margin: duration - limit, uncertainty: durationU }];
  });
  return slow.length >= TIMES ? slow : [];
}

function absoluteOf(sharp: readonly JudgedShift[], limit: Limit | undefined): Found[] {
  if (limit === undefined || sharp.length < LIKE) return [];
  const beyond = sharp.filter((s) => exceeds(s.duration, s.durationU, limit.value, limit.comparison) === 'beyond');
  if (beyond.length < SHARE * sharp.length) return [];
  return beyond.map((shift) => ({
    shift,
    what: 'absolute',
    severity: 'watch',
    limit: limit.value,
    margin: shift.duration - limit.value,
    uncertainty: shift.durationU,
  }));
}

function worse(a: Found, b: Found): boolean {
  const rank = rankOf(a.severity) - rankOf(b.severity);
  if (rank !== 0) return rank > 0;
  return a.what === b.what ? a.margin > b.margin : a.what === 'flare';
}

function summaryOf(found: Found, count: number, limits: Readonly<Record<string, Limit>>): string {
  const { shift, what, severity, limit } = found;
  const pair = `${shift.gearBefore} to ${shift.gearAfter}`;
  const when = clockTime(shift.from);
  if (what === 'flare') {
    const usual = Number.isNaN(shift.usualFlare) ? '' : ` (usual for this car ${figure(shift.usualFlare, 0)} rpm)`;
    return `The engine ran over by ${figure(shift.flare, 0)} rpm in the shift ${pair} at ${when}${usual}, beyond the ${severity} limit of ${figure(limit, 0)} rpm; ${counted(count, 'such shift')} in all.`;
  }
  if (what === 'slow') {
    return `The shift ${pair} at ${when} took ${figure(shift.duration, 2)} s where like shifts of this car take ${figure(shift.usual, 2)} s (normal up to ${figure(limit, 2)} s); ${counted(count, 'such shift')} in all.`;
  }
  return `${counted(count, 'shift')} took longer than ${figure(limits.absolute!.value, 1)} s, the slowest ${pair} at ${when} with ${figure(shift.duration, 2)} s.`;
}

/** When, which pair, what was measured, what is usual for like shifts of this car, and the limit that it passed. */
function eventOf({ shift, what, severity, limit }: Found): RuleEvent {
  const flare = what === 'flare';
  const time = {
    ...measure('duration', shift.duration, 's'),
    ...measure('usualDuration', shift.usual, 's'),
    ...measure('normalUpTo', shift.normal, 's'),
  };
  const overrun = {
    ...measure('flare', shift.flare, 'rpm'),
    ...measure('usualFlare', shift.usualFlare, 'rpm'),
  };
  return {
    input: shift.input,
    from: shift.from,
    to: shift.to,
    severity,
    what: flare ? 'engine runs over' : 'slow',
    pair: `${shift.gearBefore}-${shift.gearAfter}`,
    kind: `${shift.kind}, power ${shift.power}`,
    ...(flare ? { ...overrun, limit: { value: limit, unit: 'rpm' }, ...time } : {}),
    ...(flare ? {} : { ...time, limit: { value: limit, unit: 's' }, ...overrun }),
    ...measure('tieUp', shift.tieUp, 'm/s2'),
    ...measure('torqueReduction', 100 * shift.intervention, '%'),
    ...measure('load', 100 * shift.load, '%'),
    ...measure('fluid', shift.fluid, 'degC'),
  };
}

function measure(name: string, value: number, unit: string): Record<string, Measure> {
  return Number.isNaN(value) ? {} : { [name]: { value, unit } };
}

function measuresOf(judged: readonly JudgedShift[]): Record<string, Measure> {
  const steady = judged.filter((shift) => shift.steady);
  const durations = steady.map(({ duration }) => duration);
  const flares = judged.filter(({ shows }) => shows).map(({ flare }) => flare);
  const ties = steady.map(({ tieUp }) => tieUp).filter((x) => !Number.isNaN(x));
  return {
    shifts: { value: judged.length },
    ...(durations.length > 0
      ? {
          duration: { value: quantile(durations, 0.5), unit: 's' },
          longest: { value: Math.max(...durations), unit: 's' },
        }
      : {}),
    ...(flares.length > 0 ? { flare: { value: Math.max(...flares), unit: 'rpm' } } : {}),
    ...(ties.length > 0 ? { tieUp: { value: quantile(ties, 0.9), unit: 'm/s2' } } : {}),
  };
}

function notesOf(kind: string | undefined): string[] {
  return kind === undefined
    ? ['Kind of transmission unknown: shifts are compared with their like only, not with an absolute duration.']
    : [];
}

const FLARE_CAUSES = [
  'the clutch that takes over grips too late: fill time or touch point not learned',
  'worn facings or low pressure of the clutch that takes over',
  'fluid aged, low or of the wrong kind',
];
const SLOW_CAUSES = [
  'slow valve or low pressure of one clutch; fluid aged or low',
  'clutch adaptation out of its range',
  'synchroniser or fork of one gear slow',
];
const ADVICE = [
  'Check fluid level and condition at the temperature the maker states.',
  'Read out the clutch adaptations and any stored codes; clear none.',
  'Have the adaptation run done by a qualified workshop and record the same drive again.',
];
