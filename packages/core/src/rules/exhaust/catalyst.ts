import { CLOSED_LOOP } from '../../derived/closed-loop.js';
import { exceeds } from '../../derived/exceeds.js';
import { FUEL_CUT } from '../../derived/fuel-cut.js';
import { OXYGEN_SHARE, OXYGEN_STORAGE, STORAGE_HZ, type StorageEvent } from '../../derived/oxygen-storage.js';
import { ROW_SECONDS } from '../../derived/row-seconds.js';
import { SAMPLES } from '../../derived/samples.js';
import { WARM } from '../../derived/warm.js';
import { MAD_TO_SIGMA } from '../../math/madn.js';
import { median } from '../../math/quantile.js';
import { weightedMedian } from '../../math/weighted-median.js';
import type { Channel } from '../../recording/recording.js';
import { confidenceOf } from '../confidence.js';
import { levelOf, limitOf, rankOf, worst } from '../ladder.js';
import {
  type Context,
  defineRule,
  type Judgement,
  type LimitDefinition,
  type Measure,
  type Observed,
  type Severity,
} from '../rule.js';
import { clockTime, figure } from '../wording.js';
import { type BankReading, type CatalystReading, readCatalyst, SWITCH_HZ } from './catalyst-reading.js';

const CP = 'common practice, no source';
/** Fuel cuts that tell a storage; front switches and seconds that tell a ratio. */
const CUTS = 5;
const SWITCHES = 40;
const SECONDS = 60;
const OVERRUN = `>= ${CUTS} fuel cuts of >= 3 s with the catalyst above 400 °C, both oxygen sensors at >= ${STORAGE_HZ} Hz`;
const STEADY = `warm closed loop above idle for >= ${SECONDS} s without purge, both oxygen sensors at >= ${SWITCH_HZ} Hz`;
const LAW =
  'A catalyst that is missing, emptied or bypassed is an offence on public roads in most places, whoever did it; ask the local law before buying, and have it put right before driving.';

const limits: readonly LimitDefinition[] = [
  {
    name: 'ratio-watch',
    value: 0.5,
    unit: '1',
    comparison: '>',
    source: CP,
    about: 'switches of the rear over those of a narrow-band front sensor',
  },
  {
    name: 'ratio-repair',
    value: 0.7,
    unit: '1',
    comparison: '>',
    source: 'common practice: trade article, 0.7 to 1 on most cars',
    about: 'the same',
  },
  {
    name: 'storage-watch',
    value: 4,
    unit: 'g',
    comparison: '<',
    source: 'common practice, no source (test by fuel cut: textbook practice)',
    about: 'air swallowed from front lean to rear lean in a fuel cut, median',
  },
  {
    name: 'storage-repair',
    value: 2,
    unit: 'g',
    comparison: '<',
    source: 'common practice, no source (test by fuel cut: textbook practice)',
    about: 'the same',
  },
];

export const catalyst = defineRule({
  id: 'exhaust.catalyst',
  system: 'exhaust',
  question: 'Are the catalysts there, and do they work?',
  why: 'A dead or missing catalyst fails the inspection, is unlawful on the road, and is dear; a melting one takes engine and turbocharger with it.',
  weight: 2,
  needs: {
    channels: ['oxygenSensorVoltage'],
    optional: [
      'lambda',
      'airMassFlow',
      'exhaustMassFlow',
      'catalystTemperature',
      'catalystTemperatureModelled',
      'purgeDuty',
      'engineSpeed',
      'coolantTemperature',
    ],
    derived: [SAMPLES, ROW_SECONDS, WARM, CLOSED_LOOP, FUEL_CUT, OXYGEN_STORAGE],
    conditions: [OVERRUN, STEADY],
  },
  limits,
  method:
    'Behind a switching front sensor the switches of both sensors are counted in warm closed loop without purge, and their ratio is judged. With any front sensor, the air that flows in a fuel cut from front lean to rear lean is the oxygen that the catalyst stored; the median of at least five cuts, weighted by what each can tell (little at much flow, where the delay of the sensors alone passes grams), is judged, cuts in which the rear stayed rich count as more than they held. A late rear sensor only adds to it: little is a finding even so, and a catalyst is called sound only where the store surely is more than such a delay. The rear signal has to answer fuel cuts before anything is called sound.',
  decoys: [
    'rear signal frozen, simulated or unplugged: stays rich in cuts that no catalyst can bridge; not called sound',
    'a spacer or tired rear sensor: late whatever the air flow, where a store fills the faster the more air flows',
    'cold catalyst, purge, seconds after a cut, idle: not counted',
    'cuts that follow one another, or a front sensor that was lean just before: the store is filled already, left out',
    'short cuts: a lower bound only',
  ],
  cautions: [
    LAW,
    'The exhaust burns skin and lights dry grass; a car is looked at from below on rated stands only, with the engine off.',
  ],
  proves:
    'Warm, on a motorway: six times up to 100 km/h and off the pedal in gear for five seconds, then two minutes at steady speed; front and rear oxygen sensors, air mass flow and catalyst temperature at 5 Hz or faster.',
  observe: (view) => readCatalyst(view),
  judge,
});

interface BankJudgement {
  readonly bank: number;
  readonly level?: Severity;
  /** Which of both measures leads. */
  readonly what: 'ratio' | 'storage';
  readonly value: number;
  readonly u: number;
  readonly samples: number;
  readonly text: string;
  readonly sound: boolean;
}

interface BankSum {
  readonly front: number;
  readonly rear: number;
  readonly seconds: number;
  readonly events: readonly (StorageEvent & { readonly input: number })[];
  readonly channels: readonly Channel[];
  readonly disbelief: string | undefined;
  readonly narrow: boolean;
}

function sumOf(observed: readonly Observed<CatalystReading>[], bank: number): BankSum {
  const own = observed.flatMap(({ input, observation }) =>
    observation.banks.filter((each) => each.bank === bank).map((reading) => ({ input, reading })),
  );
  const total = (of: (reading: BankReading) => number) => own.reduce((sum, { reading }) => sum + of(reading), 0);
  return {
    front: total(({ activity }) => activity?.front ?? 0),
    rear: total(({ activity }) => activity?.rear ?? 0),
    seconds: total(({ activity }) => activity?.seconds ?? 0),
    events: own.flatMap(({ input, reading }) => reading.events.map((event) => ({ ...event, input }))),
    channels: own.flatMap(({ reading }) => reading.channels),
    disbelief: own.find(({ reading }) => reading.disbelief !== undefined)?.reading.disbelief,
    narrow: own.some(({ reading }) => reading.narrow),
  };
}

function judge(observed: readonly Observed<CatalystReading>[], context: Context): Judgement {
  const named = context.limits();
  const numbers = [...new Set(observed.flatMap(({ observation }) => observation.banks.map(({ bank }) => bank)))].sort();
  const sums = numbers.map((bank) => ({ bank, sum: sumOf(observed, bank) }));
  const judged = sums.flatMap(({ bank, sum }) => [
    ...ratioOf(bank, sum, named),
    ...storageOf(bank, sum, named, observed),
  ]);
  const severity = worst(judged.map(({ level }) => level));
  const measures: Record<string, Measure> = {};
  for (const { bank, what, value } of judged)
    measures[`${what}.bank${bank}`] = what === 'ratio' ? { value } : { value, unit: 'g' };
  for (const { bank, sum } of sums)
    measures[`cuts.bank${bank}`] = { value: sum.events.filter(({ reached }) => reached).length };
  const doubts = [
    observed.some(({ observation }) => observation.storage.heatAssumed) ? 0.9 : 1,
    observed.some(({ observation }) => observation.storage.banksAssumed) ? 0.9 : 1,
  ];
  const base = {
    measures,
    limits: Object.values(named).filter(({ name }) => judged.some(({ what }) => name.startsWith(what))),
    notes: notes(observed, sums),
    events: sums.flatMap(({ sum }) =>
      sum.events
        .filter(({ reached }) => reached)
        .map(({ input, from, to, air, bank, flow }) => ({
          input,
          from,
          to,
          peak: { value: air, unit: 'g' },
          bank: bank,
          airFlow: { value: flow, unit: 'g/s' },
        })),
    ),
  };
  const channels = sums.flatMap(({ sum }) => sum.channels);
  if (severity !== undefined) {
    const led = judged.filter(({ level }) => rankOf(level) === rankOf(severity))[0]!;
    const limit = limitOf(named, severity, led.what);
    return {
      ...base,
      outcome: 'finding',
      severity,
      confidence: confidenceOf({
        margin: Math.abs(led.value - limit.value),
        uncertainty: led.u,
        samples: led.samples,
        channels,
        doubts,
      }),
      summary: `${judged
        .filter(({ level }) => level !== undefined)
        .map(({ text }) => text)
        .join('; ')}.`,
      causes: [
        'catalyst aged, poisoned by oil or melted by misfire',
        'catalyst emptied, replaced by a pipe or by a cheap one with little coating',
        'exhaust leak before the rear sensor, or a rear sensor fitted in the wrong place',
      ],
      advice: [
        'Read codes and monitor results of the catalyst first, clear none.',
        'Leak test of the exhaust; look for welds, spacers and missing shells where the catalyst should be; knock on it cold: it must not rattle.',
        'Exhaust gas measurement at a test station, warm; temperature before and behind the catalyst.',
        'Cure misfire, oil consumption or a lean mixture before a new one is fitted, or it dies as well.',
      ],
    };
  }
  return calm(observed, sums, judged, named, doubts, base);
}

function ratioOf(bank: number, sum: BankSum, named: ReturnType<Context['limits']>): BankJudgement[] {
  if (sum.front < SWITCHES || sum.seconds < SECONDS) return [];
  const value = sum.rear / sum.front;
  // Counts of a random process each (Poisson); at least one switch, or none would be certain.
  const u = Math.max(value, 1 / sum.front) * Math.sqrt(1 / Math.max(1, sum.rear) + 1 / sum.front);
  const level = levelOf(value, u, named, 'ratio');
  const limit = limitOf(named, level ?? 'watch', 'ratio');
  return [
    {
      bank,
      what: 'ratio',
      ...(level === undefined ? {} : { level }),
      value,
      u,
      samples: sum.front,
      text: `Bank ${bank}: the rear sensor switched ${sum.rear} times to ${sum.front} of the front one, ${figure(value, 2)} (limit ${figure(limit.value, 2)})`,
      // A calm rear sensor proves a catalyst only when it is alive, which an answer to a cut shows, and not too soon.
      sound:
        value <= limitOf(named, 'watch', 'ratio').value &&
        sum.events.some(({ reached }) => reached) &&
        median(sum.events.map(({ air }) => air)) >= limitOf(named, 'watch', 'storage').value,
    },
  ];
}

function storageOf(
  bank: number,
  sum: BankSum,
  named: ReturnType<Context['limits']>,
  observed: readonly Observed<CatalystReading>[],
): BankJudgement[] {
  const { events } = sum;
  if (events.length < CUTS || !events.some(({ reached }) => reached)) return [];
  // A cut that ended too soon says "more than": for a fault as much as one likes, for soundness what it held.
  // What the sensors answer late counts by the air flow: cuts at little flow tell most, and weigh by their uncertainty.
  const weights = events.map((event) => 1 / event.u ** 2);
  const middle = (of: (event: StorageEvent) => number) => weightedMedian(events.map(of), weights);
  const high = middle(({ air, reached }) => (reached ? air : Number.POSITIVE_INFINITY));
  const low = middle(({ air }) => air);
  // The answers of two sensors differ alike in every cut: that part does not average out, sampling does. Late answers only
  // add, so that what is measured is at most a little less than what is stored, and may be much more.
  const many = Math.sqrt(events.length);
  const spread = Math.max(
    (MAD_TO_SIGMA * middle(({ air }) => Math.abs(air - low))) / many,
    middle(({ sampling }) => sampling) / many,
  );
  const guess = observed.some(({ observation }) => observation.storage.banksAssumed) ? 0.1 * low : 0;
  const uSmaller = Math.hypot(
    middle((event) => event.u),
    spread,
    guess,
  );
  const uLarger = Math.hypot(
    middle((event) => event.uLarger),
    spread,
    guess,
  );
  const level = Number.isFinite(high) ? levelOf(high, uLarger, named, 'storage') : undefined;
  const u = level === undefined ? uSmaller : uLarger;
  const watch = limitOf(named, 'watch', 'storage');
  const limit = limitOf(named, level ?? 'watch', 'storage');
  const value = level === undefined ? low : high;
  const [first] = events.filter(({ reached }) => reached);
  return [
    {
      bank,
      what: 'storage',
      ...(level === undefined ? {} : { level }),
      value,
      u,
      samples: events.length,
      text: `Bank ${bank}: the catalyst stored ${Number.isFinite(high) ? '' : 'at least '}the oxygen of ${figure(value)} g of air (${figure(value * OXYGEN_SHARE, 2)} g oxygen, ${events.length} fuel cuts, first at ${clockTime(first!.from)}; ${level === undefined ? 'a sound one stores at least' : 'limit: below'} ${figure(limit.value)} g)`,
      // What the sensors answer late may be all that was measured: only what surely is more than that is a store.
      sound: exceeds(low, u, watch.value, watch.comparison) === 'within',
    },
  ];
}

function calm(
  observed: readonly Observed<CatalystReading>[],
  sums: readonly { readonly bank: number; readonly sum: BankSum }[],
  judged: readonly BankJudgement[],
  named: ReturnType<Context['limits']>,
  doubts: readonly number[],
  base: Pick<Judgement, 'measures'> & object,
): Judgement {
  const open = (summary: string, channels: readonly string[], conditions: readonly string[]): Judgement => ({
    ...base,
    outcome: 'unproven',
    summary,
    missing: { channels, conditions },
  });
  const doubted = sums.find(({ sum }) => sum.disbelief !== undefined);
  if (doubted !== undefined)
    return open(
      `Bank ${doubted.bank}: the rear oxygen sensor ${doubted.sum.disbelief}. It shows nothing of the catalyst; look at sensor, wiring and calibration.`,
      [`oxygenSensorVoltage.bank${doubted.bank}Sensor2`],
      [OVERRUN],
    );
  const sound = (bank: number) => judged.some((each) => each.bank === bank && each.sound);
  const lacking = sums.filter(({ bank }) => !sound(bank));
  if (lacking.length > 0) {
    const slow = [...new Set(observed.flatMap(({ observation }) => observation.banks.flatMap((bank) => bank.slow)))];
    const obstacle = observed.find(({ observation }) => observation.storage.obstacle)?.observation.storage.obstacle;
    const { bank, sum } = lacking[0]!;
    const near = judged.filter((each) => each.bank === bank);
    if (near.length > 0)
      return open(
        `${near.map(({ text, u, what }) => `${text}, give or take ${figure(u, what === 'ratio' ? 2 : 1)}${what === 'ratio' ? '' : ' g'}`).join('; ')}: not sure enough to call the catalyst sound or bad. What the rear sensor answers late is counted as store: cuts at little air flow tell more.`,
        [],
        [`${OVERRUN}, from a speed and gear with little air flow`, ...(sum.narrow ? [STEADY] : [])],
      );
    return open(
      `Bank ${bank}: ${sum.events.length} fuel cuts that tell and ${sum.front} switches of the front sensor${obstacle === undefined ? '' : `; ${obstacle.reason}`}: too little to judge the catalyst.`,
      obstacle?.channels ?? [],
      [...new Set([...slow.map((id) => `${id} at >= ${SWITCH_HZ} Hz`), OVERRUN, ...(sum.narrow ? [STEADY] : [])])],
    );
  }
  const best = judged.filter((each) => each.sound);
  const led = best.reduce((a, b) => (b.what === 'storage' && a.what !== 'storage' ? b : a));
  const limit = limitOf(named, 'watch', led.what);
  return {
    ...base,
    outcome: 'clear',
    confidence: confidenceOf({
      margin: led.what === 'ratio' ? limit.value - led.value : led.value - limit.value,
      uncertainty: led.u,
      samples: led.samples,
      channels: sums.flatMap(({ sum }) => sum.channels),
      doubts,
    }),
    summary: `${best.map(({ text }) => text).join('; ')}.`,
  };
}

function notes(
  observed: readonly Observed<CatalystReading>[],
  sums: readonly { readonly bank: number; readonly sum: BankSum }[],
): string[] {
  const told = new Set<string>();
  for (const { observation } of observed) {
    const { heatAssumed, banksAssumed } = observation.storage;
    if (heatAssumed)
      told.add('No catalyst temperature recorded: taken as hot once the engine has been warm for three minutes.');
    if (banksAssumed) told.add('Number of banks unknown: one bank taken, the air flow not shared.');
  }
  for (const { bank, sum } of sums)
    if (sum.disbelief !== undefined) told.add(`Bank ${bank}: the rear oxygen sensor ${sum.disbelief}.`);
  return [...told];
}
