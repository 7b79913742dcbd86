import type { Certainty } from '../../recording/recording.js';
import { confidenceOf } from '../confidence.js';
import { rankOf } from '../ladder.js';
import type { Context, Judgement, Measure, Observed, RuleEvent } from '../rule.js';
import { clockTime, counted, figure, signed } from '../wording.js';
import { contacts, type OverRev, type OverRevReading } from './over-rev-reading.js';

export interface OverRevObservation {
  readonly reading: OverRevReading;
  readonly revLimit: number;
  /** Seconds of driving, gaps left out; of a running engine where no speed is recorded. */
  readonly driven: number;
  readonly fastEnough: boolean;
  readonly pedal: boolean;
  /** Stretches in which the engine speed is cut off at its highest reading (rpm). */
  readonly cut: { readonly times: number; readonly top: number };
  readonly channels: readonly { readonly certainty: Certainty }[];
}

/** Seconds of driving before "no over-rev" says anything about a drive. */
export const DRIVEN = 60;
/** Fresh engine speeds per second: two within the half second that an over-rev lasts (common practice). */
export const RATE = 4;

const CAUSES = {
  wheels: [
    'downshift into too low a gear: the wheels pushed the engine past its limit, where no limiter can help',
    'downshift asked for while braking hard from high speed, in a manual mode or after the gearbox software was changed',
  ],
  pedal: [
    'rev limit raised in the engine software above the one in the profile',
    'rev limit of the profile not that of this engine',
    'downshift with the pedal pressed, or a slipping clutch',
  ],
} as const;
const ADVICE = {
  wheels: [
    'Do not run the engine hard until it is checked; listen for ticking from the valve gear.',
    'Read codes, misfire counters and stored over-rev counters out of the engine control unit.',
    'Do a leak-down (cylinder pressure loss) test: bent valves show there first.',
    'Look at valve clearance and springs, chain or belt and its tensioner; look for metal in the oil filter.',
  ],
  pedal: [
    'Look up the rev limit of this engine as it was built and enter it in the vehicle profile.',
    'Ask who changed the engine software, and for the valve springs and bearings that go with a higher limit.',
    'Have a leak-down (cylinder pressure loss) test done before buying.',
  ],
} as const;
const STOP =
  'Do not start the engine again before the leak-down test: a valve that has touched a piston may break off.';

/** Weighs the over-revs that all drives showed. */
export function judgeSeen(observed: readonly Observed<OverRevObservation>[], context: Context): Judgement {
  const named = context.limits();
  const all = observed.map(({ observation }) => observation);
  const placed = observed.flatMap(({ input, observation }) =>
    observation.reading.events.map((event) => ({ input, event, observation })),
  );
  const found = placed.filter(({ event }) => event.severity !== undefined);
  const best = all.reduce((a, b) => (b.reading.top > a.reading.top || Number.isNaN(a.reading.top) ? b : a));
  const [revLimit] = all.map((each) => each.revLimit);
  const pushed = placed.filter(({ event }) => event.by === 'wheels');
  const reached = all.reduce((sum, { reading }) => sum + contacts(reading.events), 0);
  const over = (peak: number): number => 100 * (peak / revLimit! - 1);
  const measures: Record<string, Measure> = {
    peak: { value: best.reading.top, unit: 'rpm' },
    over: { value: over(best.reading.top), unit: '%' },
    limiterContacts: { value: reached },
    mechanical: { value: found.filter(({ event }) => event.by === 'wheels').length },
    ...(pushed.length > 0
      ? { mechanicalOver: { value: over(Math.max(...pushed.map(({ event }) => event.peak))), unit: '%' } }
      : {}),
  };
  const base = {
    measures,
    events: found.map(({ input, event }): RuleEvent => eventOf(input, event, over(event.peak))),
    limits: Object.values(named),
    notes: notesOf(all, reached, revLimit!),
  };
  const channels = all.flatMap((each) => each.channels);
  const worst = found.reduce<(typeof found)[number] | undefined>((a, b) => {
    const rank = a === undefined ? 1 : rankOf(b.event.severity) - rankOf(a.event.severity);
    return rank > 0 || (rank === 0 && b.event.peak > a!.event.peak) ? b : a;
  }, undefined);
  if (worst !== undefined) {
    const { event, observation } = worst;
    const limit = named[event.passed!]!;
    const mechanical = event.by === 'wheels';
    const kind = mechanical ? 'wheels' : 'pedal';
    const foot = mechanical
      ? 'with the pedal released: the wheels pushed it'
      : event.by === 'pedal'
        ? 'with the pedal pressed'
        : 'and no pedal recorded that would tell limiter from downshift';
    const more = found.length > 1 ? ` (${counted(found.length, 'event')})` : '';
    return {
      ...base,
      outcome: 'finding',
      severity: event.severity!,
      confidence: confidenceOf({
        margin: event.peak - revLimit! * (1 + limit.value / 100),
        uncertainty: observation.reading.uncertainty,
        samples: event.samples,
        channels: observation.channels,
        // The profile's limit is a word, not a reading; a limiter may have been raised on purpose.
        doubts: [mechanical ? 1 : 0.8],
      }),
      summary: `The engine turned ${figure(event.peak, 0)} rpm at ${clockTime(event.peakAt)}, ${signed(over(event.peak))} % over its limit of ${figure(revLimit!, 0)} rpm, ${foot}${more}; ${event.severity} beyond ${signed(limit.value)} %.`,
      causes: CAUSES[kind],
      advice: event.severity === 'stop' ? [STOP, ...ADVICE[kind]] : ADVICE[kind],
    };
  }
  const cut = all.find((each) => each.cut.times > 0);
  if (cut !== undefined)
    return {
      ...base,
      outcome: 'unproven',
      summary: `Engine speed lies flat on its highest reading (${figure(cut.cut.top, 0)} rpm) ${counted(cut.cut.times, 'time')} while the car gathers speed: it was cut off there, and what the engine reached is not shown.`,
      missing: { channels: [], conditions: ['engineSpeed over its whole range, as the control unit sends it'] },
    };
  const lone = all.find(({ reading, fastEnough }) => reading.lone > 0 && !fastEnough);
  const shown = all.filter(({ driven, fastEnough }) => fastEnough && driven >= DRIVEN);
  if (lone !== undefined || shown.length === 0) {
    const slow = all.some(({ fastEnough }) => !fastEnough);
    const [summary, condition] =
      lone !== undefined
        ? ['One sample lay beyond the limit, too few to tell an over-rev from a disturbed reading.', rateNeeded()]
        : slow
          ? ['Engine speed was recorded too slowly: an over-rev lasts half a second.', rateNeeded()]
          : ['The recording holds too little driving to say anything.', `driving for >= ${DRIVEN} s`];
    return { ...base, outcome: 'unproven', summary, missing: { channels: [], conditions: [condition] } };
  }
  const near = placed.some(({ event }) => event.near);
  const margin = revLimit! * (1 + named.repair!.value / 100) - best.reading.top;
  return {
    ...base,
    outcome: 'clear',
    confidence: confidenceOf({
      margin: Math.max(0, margin),
      uncertainty: best.reading.uncertainty,
      samples: shown.reduce((sum, { driven, reading }) => sum + driven * reading.hz, 0),
      channels,
      doubts: [near ? 0.6 : 1, shown.length < all.length ? 0.8 : 1, shown.every((each) => each.pedal) ? 1 : 0.9],
    }),
    summary: `Highest engine speed ${figure(best.reading.top, 0)} rpm at ${clockTime(best.reading.topAt)}, limit ${figure(revLimit!, 0)} rpm${reached > 0 ? `; the limiter was reached ${counted(reached, 'time')} with the pedal down, within its overshoot` : ''}${near ? '; near the limit of a finding' : ''}.`,
  };
}

function rateNeeded(): string {
  return `engineSpeed at >= ${RATE} Hz`;
}

function eventOf(input: number, event: OverRev, over: number): RuleEvent {
  return {
    input,
    from: event.from,
    to: event.to,
    severity: event.severity!,
    peak: { value: event.peak, unit: 'rpm' },
    over: { value: over, unit: '%' },
    driven: event.by,
  };
}

function notesOf(all: readonly OverRevObservation[], reached: number, revLimit: number): string[] {
  const notes = [
    `Rev limit ${figure(revLimit, 0)} rpm as in the vehicle profile; what happened before this recording does not show.`,
  ];
  if (reached > 0)
    notes.push(`Limiter reached ${counted(reached, 'time')} with the pedal down: hard use, no damage by itself.`);
  if (all.some(({ pedal }) => !pedal))
    notes.push('Pedal not recorded: an engine pushed by the wheels cannot be told from one at its limiter.');
  const slow = all.filter(({ fastEnough }) => !fastEnough).length;
  if (slow > 0 && slow < all.length) notes.push(`${counted(slow, 'recording')} too slow to show an over-rev.`);
  const aside = all.reduce((sum, { reading }) => sum + reading.setAside, 0);
  if (aside > 0) notes.push(`${counted(aside, 'reading')} set aside: no wheels push the engine of a standing car.`);
  return notes;
}
