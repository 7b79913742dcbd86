import { confidenceOf } from '../confidence.js';
import type { Context, Judgement, Measure, Observed, RuleEvent, Severity } from '../rule.js';
import { counted, figure, listed } from '../wording.js';
import { type CoverageObservation, DUE, SEEN } from './gear-coverage-reading.js';

/** Speed ranges that a box held in one gear or in half of them must be seen to pass (rule catalogue). */
const RANGES = 3;
/** A log without gear column that is slower than this (Hz) misses gears; what is asked for then. Common practice, no source. */
const SLOW = 1.5;
const WANTED = 2;
/** Driving (s) before half a gearbox is spoken of. */
const DRIVEN = 60;

export function judgeCoverage(observed: readonly Observed<CoverageObservation>[], context: Context): Judgement {
  const gears = context.vehicle.transmission.gears!;
  const limits = context.limits();
  const watch = limits.watch!;
  const manual = context.vehicle.transmission.kind === 'manual';
  const sum = (of: (observation: CoverageObservation) => number): number =>
    observed.reduce((total, { observation }) => total + of(observation), 0);
  const numbers = gears.map((_, k) => k + 1);
  const seen = numbers.filter((g) => sum(({ seconds }) => seconds[g]!) >= SEEN);
  const missing = numbers.filter((g) => !seen.includes(g));
  const chances = (g: number): number => sum((observation) => observation.chances[g]!);
  const ranges = Math.max(...observed.map(({ observation }) => observation.ranges));
  const driven = sum((observation) => observation.driven);
  const reverse = sum((observation) => observation.reverse);
  const channels = observed.flatMap(({ observation }) => observation.channels);
  const measures: Record<string, Measure> = {
    gears: { value: seen },
    missing: { value: missing },
    reverse: { value: reverse, unit: 's' },
    driven: { value: driven, unit: 's' },
  };
  const notes = reverse >= SEEN ? [] : ['Reverse was not driven or not recorded: nothing is said of it.'];
  const base = { measures, limits: [watch, limits.stop!], notes };
  const passed = ranges >= limits.stop!.value && ranges >= RANGES && driven >= DRIVEN && seen.length > 0;
  const offered = missing.reduce((total, g) => total + chances(g), 0);
  const stuck = passed && !manual ? stuckIn(seen, missing, numbers, offered >= watch.value) : undefined;
  const lost = manual ? [] : missing.filter((g) => chances(g) >= watch.value);
  if (stuck !== undefined || lost.length > 0) {
    const severity: Severity = stuck === undefined ? 'watch' : 'stop';
    const support = stuck === undefined ? Math.min(...lost.map(chances)) : ranges;
    return {
      ...base,
      outcome: 'finding',
      severity,
      confidence: confidenceOf({ margin: 1, uncertainty: 0.5, samples: support, channels }),
      events: missedOf(observed, stuck === undefined ? lost : missing, severity),
      summary:
        stuck ??
        `Gear ${listed(lost.map(String))} was never used in ${counted(Math.min(...lost.map(chances)), 'chance')} of at least ten seconds at light load in D (limit ${figure(watch.value, 0)}).`,
      causes:
        stuck === undefined
          ? [
              'fork or sensor of that gear',
              'that gear locked out by the control unit after a fault',
              'a mode that does not use it',
            ]
          : [
              'one half of a dual clutch shut down by the control unit',
              'limp mode after a fault: read the codes',
              'valve body or shaft speed sensor',
            ],
      advice: [
        'Read out stored codes of the transmission; clear none.',
        'Repeat the drive in D, warm, gently up to motorway speed.',
        ...(severity === 'stop'
          ? ['Do not drive on before a qualified technician has looked at the transmission.']
          : []),
      ],
    };
  }
  if (missing.length > 0) {
    return {
      ...base,
      outcome: 'unproven',
      summary: `Gears ${listed(seen.map(String))} of ${gears.length} were used; ${listed(missing.map(String))} had too few chances.`,
      missing: {
        channels: [],
        conditions: [
          `warm drive in D through every gear: ${listed(missing.map((g) => `gear ${g}`))}`,
          ...(observed.every(({ observation: { source, hz } }) => source === 'ratio' && hz < SLOW)
            ? [
                `gear, or engine speed and road speed at >= ${WANTED} Hz: a gear held for a second or two is not seen otherwise`,
              ]
            : []),
        ],
      },
    };
  }
  return {
    ...base,
    outcome: 'clear',
    confidence: confidenceOf({
      margin: Math.min(...numbers.map((g) => sum(({ seconds }) => seconds[g]!))) - SEEN,
      uncertainty: 0.3,
      samples: seen.length,
      channels,
      doubts: observed.some(({ observation }) => observation.source === 'ratio') ? [0.95] : [],
    }),
    summary: `All ${gears.length} forward gears were used${reverse >= SEEN ? ', and reverse' : ''}.`,
  };
}

/** Each chance that a gear missed: when, which gears were used instead, and what its engine speed would have been. */
function missedOf(
  observed: readonly Observed<CoverageObservation>[],
  gears: readonly number[],
  severity: Severity,
): RuleEvent[] {
  return observed.flatMap(({ input, observation }) =>
    observation.missed
      .filter(({ gear }) => gears.includes(gear))
      .map(({ gear, from, to, turning, low, high }) => ({
        input,
        from,
        to,
        severity,
        what: Number.isNaN(turning) ? `gear ${gear} passed by` : `gear ${gear} due, not taken`,
        used: low === high ? `gear ${low}` : `gears ${low} to ${high}`,
        ...(Number.isNaN(turning)
          ? {}
          : {
              engineSpeedInIt: { value: turning, unit: 'rpm' },
              limit: { value: DUE, unit: 'rpm' },
            }),
      })),
  );
}

/** @param offered the missing gears had their chances: a kick-down from sixth to fourth gear alone shows no lost half */
function stuckIn(
  seen: readonly number[],
  missing: readonly number[],
  numbers: readonly number[],
  offered: boolean,
): string | undefined {
  if (seen.length === 1)
    return `Only gear ${seen[0]} was used although the speed passed the ranges of several gears: held in one gear.`;
  const halves = [
    ['odd', numbers.filter((g) => g % 2 === 1)],
    ['even', numbers.filter((g) => g % 2 === 0)],
  ] as const;
  for (const [name, half] of halves) {
    if (offered && half.length >= 2 && half.every((g) => missing.includes(g)) && seen.length >= 2) {
      return `No ${name} gear was used although the speed passed the ranges of several gears: half of the gearbox is out.`;
    }
  }
  return undefined;
}
