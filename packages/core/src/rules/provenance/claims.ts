import { BOOST } from '../../derived/boost.js';
import { lastValue } from '../../derived/last-value.js';
import { READ_OUT } from '../../derived/read-out.js';
import { isRefusal } from '../../derived/recipe.js';
import { PULLS } from '../../derived/segments.js';
import { quantile } from '../../math/quantile.js';
import type { Vehicle } from '../../vehicle/vehicle.js';
import { confidenceOf } from '../confidence.js';
import { type Context, defineRule, type Judgement, type LimitDefinition, type Observed } from '../rule.js';
import { counted, figure, listed } from '../wording.js';
import { type ClaimState, type Evidence, WEIGHERS, type WeighedClaim } from './claims-weighing.js';

const CP = 'common practice, no source';
const limits: readonly LimitDefinition[] = [
  { name: 'watch', value: 1, unit: '1', comparison: '>=', source: CP, about: 'claims that the evidence contradicts' },
  { name: 'repair', value: 2, unit: '1', comparison: '>=', source: CP, about: 'the same' },
];

/** Codes about the efficiency and heating of catalysts (SAE J2012: P0420 to P0439). */
const CATALYST = /^P04[23]\d/;
const CATALYST_TEST = /cataly/i;
/** s of boost that count as held: the share of a pull left out at its top. */
const HELD = 0.8;
/** s of a pull that gives the turbocharger time. */
const LONG = 3;

export const claims = defineRule({
  id: 'provenance.claims',
  system: 'provenance',
  question: 'Is the car what the seller says it is?',
  why: 'The price was made by what was said. What the evidence contradicts is a reason to ask, to pay less or to leave.',
  weight: 1,
  needs: {
    channels: [],
    optional: ['odometer', 'distanceSinceClear', 'launchCount', 'overRevCount', 'manifoldPressure', 'boostPressure'],
    derived: [BOOST, PULLS, READ_OUT],
    conditions: [
      'vehicle profile with claims',
      'full-load pulls on a closed course; odometers, counters, codes and monitor results read out',
    ],
  },
  readOuts: true,
  joins: true,
  limits,
  notApplicable: (vehicle: Vehicle) =>
    Object.values(vehicle.claims).every((said) => said === undefined)
      ? 'The profile holds no claim of the seller.'
      : undefined,
  method:
    'Each claim of the profile is set against the evidence that answers it: power, injectors, software and cold start against the rules of that name; boost against what was held in full-load pulls; launches, distance, clearing of codes and catalysts against what the control units keep. A claim is supported, contradicted or not shown; a recording can show that a car was used hard, never that it was not. Claims that nothing here can judge are listed as such.',
  decoys: [
    'a distance rounded in the advertisement',
    'power that was not asked for in the drive: not shown, never contradicted by gentle driving',
    'no sign of circuit use: not shown, as absence proves nothing',
    'counters at the end of their range',
  ],
  cautions: [
    'A claim that the evidence contradicts may be an honest mistake of an earlier owner: ask before accusing.',
  ],
  proves:
    'Three full-load pulls on a closed course for power and boost; odometers, launch counter, codes, monitor results and distance since codes were cleared, read out.',
  observe(view): Evidence {
    const boost = view.derive(BOOST);
    const pulls = view.derive(PULLS);
    const readOut = view.derive(READ_OUT);
    const held: number[] = [];
    if (!isRefusal(boost) && !isRefusal(pulls))
      for (const { start, end } of pulls) {
        if (view.time[end]! - view.time[start]! < LONG) continue;
        const top = quantile(boost.values.slice(start, end + 1), HELD);
        if (!Number.isNaN(top)) held.push(top);
      }
    const codes = isRefusal(readOut) ? undefined : readOut.codes;
    const tests = isRefusal(readOut)
      ? []
      : readOut.monitorResults.filter(({ name, notRun }) => CATALYST_TEST.test(name) && !notRun);
    const failed = tests.filter(({ value, low, high }) => value < low || value > high);
    return {
      boost: held.length > 0 ? Math.max(...held) : Number.NaN,
      boostU: isRefusal(boost) ? Number.NaN : boost.u,
      pulls: held.length,
      odometer: Math.max(
        ...[
          lastValue(view.optional('odometer')),
          ...(isRefusal(readOut) ? [] : readOut.odometers.map(({ value }) => value)),
        ].filter((x) => !Number.isNaN(x)),
        Number.NEGATIVE_INFINITY,
      ),
      sinceClear: lastValue(view.optional('distanceSinceClear')),
      launches: lastValue(view.optional('launchCount')),
      overRevs: lastValue(view.optional('overRevCount')),
      ...(codes === undefined
        ? {}
        : { catalystCodes: codes.map(({ code }) => code.code).filter((code) => CATALYST.test(code)) }),
      catalystTests: {
        passed: tests.length - failed.length,
        failed: failed.map(({ value, low, high }) => `${figure(value, 3)} (${figure(low, 3)} to ${figure(high, 3)})`),
      },
    };
  },
  judge,
});

function judge(observed: readonly Observed<Evidence>[], context: Context): Judgement {
  const named = context.limits();
  const evidence = together(observed.map(({ observation }) => observation));
  const results = context.results ?? new Map();
  const said = Object.entries(context.vehicle.claims).filter(([, value]) => value !== undefined);
  const weighed = said
    .filter(([claim]) => claim !== 'injectorPressure')
    .map(([claim, value]): WeighedClaim => {
      const weigher = Object.hasOwn(WEIGHERS, claim) ? WEIGHERS[claim] : undefined;
      const told = weigher?.(value, evidence, results) ?? {
        state: 'not judged' as const,
        because: 'nothing in a recording or read-out answers it',
      };
      return { claim: claim.slice(0, 40), said: words(claim, value), ...told };
    });
  const of = (state: ClaimState): readonly WeighedClaim[] => weighed.filter((each) => each.state === state);
  const [against, shown, open, none] = [of('contradicted'), of('supported'), of('not shown'), of('not judged')];
  const base = {
    measures: {
      contradicted: { value: against.length },
      supported: { value: shown.length },
      notShown: { value: open.length },
      notJudged: { value: none.length },
    },
    limits: Object.values(named),
    notes: weighed
      .filter(({ state }) => state !== 'contradicted')
      .map(({ claim, said: what, state, because }) => `${name(claim)} (${what}): ${state}. ${sentence(because)}`),
    details: { claims: weighed.map((each) => ({ ...each })) },
  };
  if (against.length >= named.watch!.value) {
    return {
      ...base,
      outcome: 'finding',
      severity: against.length >= named.repair!.value ? 'repair' : 'watch',
      confidence: confidenceOf({
        margin: 1,
        uncertainty: 0,
        samples: 9 * against.length,
        channels: [],
        doubts: [0.95],
      }),
      summary: `${counted(against.length, 'claim')} of ${weighed.length} contradicted. ${against
        .map(({ claim, said: what, because }) => `${name(claim)} (said: ${what}): ${lower(because)}`)
        .join('. ')}.`,
      causes: ['the car is not what was said', 'the seller passes on what an earlier owner said'],
      advice: [
        `Put the numbers to the seller, one claim at a time, beginning with ${lower(name(against[0]!.claim))}.`,
        'Ask for bills, measurements and earlier read-outs that support what was said.',
        'Price the car by what the evidence shows.',
      ],
    };
  }
  if (shown.length === 0) {
    return {
      ...base,
      outcome: 'unproven',
      summary: `No claim was contradicted, and none is shown either: ${listed(weighed.map(({ claim }) => lower(name(claim))))}.`,
      missing: { channels: [], conditions: ['the drives and read-outs that each claim names'] },
    };
  }
  return {
    ...base,
    outcome: 'clear',
    confidence: confidenceOf({
      margin: 1,
      uncertainty: 0,
      samples: 9,
      channels: [],
      doubts: [shown.length / Math.max(1, shown.length + open.length)],
    }),
    summary: `${counted(shown.length, 'claim')} supported (${listed(shown.map(({ claim }) => lower(name(claim))))}), none contradicted${open.length > 0 ? `, ${open.length} not shown (${listed(open.map(({ claim }) => lower(name(claim))))})` : ''}.`,
  };
}

/** What several recordings and read-outs of one car say together: the highest count, the longest distance. */
function together(all: readonly Evidence[]): Evidence {
  const known = (of: (each: Evidence) => number): number[] => all.map(of).filter((x) => Number.isFinite(x));
  const most = (of: (each: Evidence) => number): number => {
    const values = known(of);
    return values.length > 0 ? Math.max(...values) : Number.NaN;
  };
  const cleared = known((each) => each.sinceClear);
  const codes = all.flatMap(({ catalystCodes }) => (catalystCodes === undefined ? [] : [catalystCodes]));
  return {
    boost: most((each) => each.boost),
    boostU: most((each) => each.boostU),
    pulls: all.reduce((sum, each) => sum + each.pulls, 0),
    odometer: most((each) => each.odometer),
    sinceClear: cleared.length > 0 ? Math.min(...cleared) : Number.NaN,
    launches: most((each) => each.launches),
    overRevs: most((each) => each.overRevs),
    ...(codes.length === 0 ? {} : { catalystCodes: [...new Set(codes.flat())] }),
    catalystTests: {
      passed: all.reduce((sum, each) => sum + each.catalystTests.passed, 0),
      failed: all.flatMap((each) => each.catalystTests.failed),
    },
  };
}

const NAMES: Readonly<Record<string, string>> = {
  codesCleared: 'Codes cleared',
  coldStart: 'Cold start',
  tracked: 'Circuit use',
};
const UNITS: Readonly<Record<string, string>> = { power: 'kW', boost: 'kPa', injectors: 'cc/min', distance: 'km' };

function name(claim: string): string {
  return NAMES[claim] ?? claim.charAt(0).toUpperCase() + claim.slice(1);
}

function words(claim: string, value: unknown): string {
  const unit = UNITS[claim];
  if (typeof value === 'number') return `${figure(value, 0)}${unit === undefined ? '' : ` ${unit}`}`;
  if (value === true) return 'yes';
  if (value === false) return 'no';
  return typeof value === 'string' ? value.slice(0, 60) : 'as stated';
}

function sentence(text: string): string {
  return `${text.charAt(0).toUpperCase()}${text.slice(1)}.`;
}

/** Only where the second letter is small: `P0420` stays. */
function lower(text: string): string {
  return /^[A-Z][a-z ]/.test(text) ? text.charAt(0).toLowerCase() + text.slice(1) : text;
}
