import { exceeds } from '../../derived/exceeds.js';
import { confidenceOf } from '../confidence.js';
import type { Context, Judgement, Limit, Observed, Severity } from '../rule.js';
import type { StoredPeak } from '../stored-temperature.js';
import { withStored } from '../stored-value.js';
import { clockTime, figure } from '../wording.js';
import { coolerOf, dwellAbove, eventCount, eventsOf, measuresOf, type Seen, sum } from './over-temperature-measures.js';
import {
  EVENT,
  type FluidEvent,
  ladderOf,
  OPERATING,
  type Reading,
  unseenAbove,
  variantOf,
} from './over-temperature-reading.js';
import { storedFluid, storedFluidAlone } from './over-temperature-stored.js';
import {
  adviceOf,
  COOLER_ADVICE,
  COOLER_CAUSES,
  causesOf,
  foundSummary,
  notesOf,
  PLACES,
} from './over-temperature-wording.js';

export interface FluidObservation {
  readonly readings: readonly Reading[];
  /** Absent when not read. */
  readonly stored?: StoredPeak;
}

/** Fluid has to be seen at operating temperature for this long (s) before "it did not get too hot" says anything. */
const WARM_ENOUGH = 300;
/** A sensor that reads the same for this long (s) while the car is driven is not believed. Common practice, no source. */
const DEAD_AFTER = 900;
const RANK: Readonly<Record<Severity, number>> = { watch: 1, repair: 2, stop: 3 };

interface Worst extends Seen {
  readonly event: FluidEvent;
  readonly severity: Severity;
}

/** Weighs what all drives showed, and the highest temperature that the control unit has kept. */
export function judgeFluid(observed: readonly Observed<FluidObservation>[], context: Context): Judgement {
  const stored = storedFluid(
    observed.flatMap(({ observation }) => observation.stored ?? []),
    context,
  );
  return observed.every(({ observation }) => observation.readings.length === 0)
    ? storedFluidAlone(stored, context)
    : withStored(judgeSeen(observed, context), stored);
}

/** Channels at different places are judged each by its own limits, the worst leads. */
function judgeSeen(observed: readonly Observed<FluidObservation>[], context: Context): Judgement {
  const all = observed.flatMap(({ input, observation }) => observation.readings.map((reading) => ({ input, reading })));
  const { kind } = context.vehicle.transmission;
  const worst = worstOf(all);
  const place = worst?.reading.place ?? leadingPlace(all);
  const seen = all.filter(({ reading }) => reading.place === place);
  const limits = context.limits(variantOf(place, kind));
  const ladder = ladderOf(limits);
  const cooler = coolerOf(seen, limits.cooler);
  const base = {
    measures: measuresOf(seen, cooler),
    events: eventsOf(seen, ladder),
    limits: [...ladder, ...(limits.cooler === undefined ? [] : [limits.cooler])],
    notes: notesOf(seen, kind, place === 'sump' && context.vehicle.transmission.fluidPlace === undefined),
  };
  // Unknown kind or a manual gearbox: the true limits may be higher; unsteady sensor: its other readings are doubted too.
  const doubts = [
    kind === undefined || kind === 'manual' ? 0.85 : 1,
    seen.some(({ reading }) => reading.setAside > 0) ? 0.9 : 1,
  ];
  if (worst !== undefined) {
    const limit = limits[worst.severity]!;
    return {
      ...base,
      outcome: 'finding',
      severity: worst.severity,
      confidence: confidenceOf({
        margin: worst.event.peak - limit.value,
        uncertainty: worst.reading.uncertainty,
        samples: worst.event.samples,
        channels: [worst.reading],
        // A leap may be a connector, not heat.
        doubts: worst.event.leapt ? [...doubts, 0.6] : doubts,
      }),
      summary: foundSummary(worst, limit, dwellAbove(seen, worst.severity), eventCount(seen)),
      causes: causesOf(seen, cooler?.beyond === true),
      advice: adviceOf(worst.severity, worst.event.leapt),
    };
  }
  if (cooler?.beyond) {
    return {
      ...base,
      outcome: 'finding',
      severity: 'watch',
      confidence: confidenceOf({
        ...cooler,
        margin: cooler.difference - cooler.limit.value,
        channels: [cooler.reading],
        doubts,
      }),
      summary: `On a steady motorway drive the fluid stood ${figure(cooler.difference)} K above the coolant for ${figure(cooler.seconds, 0)} s (limit ${figure(cooler.limit.value)} K): the fluid cooler does not carry its heat away.`,
      causes: COOLER_CAUSES,
      advice: COOLER_ADVICE,
    };
  }
  return calmJudgement(seen, ladder[0]!, base, doubts);
}

/** No finding: clear, or what is missing to say so. */
function calmJudgement(
  seen: readonly Seen[],
  lowest: Limit,
  base: Pick<Judgement, 'measures'> & object,
  doubts: readonly number[],
): Judgement {
  const warm = sum(seen.map(({ reading }) => reading.warm));
  const top = seen.reduce((a, b) => (b.reading.peak > a.reading.peak ? b : a)).reading;
  const slow = seen.find(({ reading }) => reading.undecided || mayHaveBeenAbove(reading, lowest.value));
  const dead = seen.find(({ reading }) => reading.constant && reading.seen >= DEAD_AFTER);
  const told = `Fluid peaked at ${figure(top.peak)} °C ${PLACES[top.place]} (limit ${figure(lowest.value)} °C)`;
  if (dead) {
    return {
      ...base,
      outcome: 'unproven',
      summary: `The fluid temperature reads ${figure(dead.reading.peak)} °C all the time: the sensor is not believed.`,
      missing: {
        channels: ['transmissionOilTemperature'],
        conditions: ['a fluid temperature that moves as the car warms up'],
      },
    };
  }
  const leapt = seen.find(({ reading }) => reading.broken.length > 0);
  if (leapt) {
    return {
      ...base,
      outcome: 'unproven',
      summary: `${told}, but at ${clockTime(leapt.reading.broken[0]!)} the reading leapt to another level and stayed there, as no fluid can: one side of it is not true.`,
      missing: {
        channels: ['transmissionOilTemperature'],
        conditions: ['a fluid temperature without leaps: look at the connector of its sensor, and record again'],
      },
    };
  }
  if (slow) {
    const needed = figure(EVENT.minFresh / EVENT.minDuration);
    return {
      ...base,
      outcome: 'unproven',
      summary: `${told}, but one reading in ${figure(1 / slow.reading.hz)} s is too slow to tell how long it was above it.`,
      missing: { channels: [], conditions: [`transmissionOilTemperature at >= ${needed} Hz`] },
    };
  }
  if (warm < WARM_ENOUGH) {
    return {
      ...base,
      outcome: 'unproven',
      summary: `${told}, but it was at operating temperature (>= ${OPERATING} °C) for ${figure(warm, 0)} s only: that it stays cool is not shown.`,
      missing: {
        channels: [],
        conditions: [`transmission fluid >= ${OPERATING} °C for >= ${WARM_ENOUGH} s of driving`],
      },
    };
  }
  const near =
    exceeds(top.peak, top.uncertainty, lowest.value, lowest.comparison) === 'near' || top.peak >= lowest.value;
  const loaded = seen.some(({ reading }) => reading.loaded === true);
  const unknown = seen.every(({ reading }) => reading.loaded === undefined);
  return {
    ...base,
    outcome: 'clear',
    confidence: confidenceOf({
      margin: lowest.value - top.peak,
      uncertainty: top.uncertainty,
      samples: sum(seen.map(({ reading }) => reading.samples)),
      channels: seen.map(({ reading }) => reading),
      // Half a proof after five warm minutes, and less of one when nobody asked the clutches for full load.
      doubts: [...doubts, warm / (warm + WARM_ENOUGH / 3), loaded ? 1 : unknown ? 0.9 : 0.8],
    }),
    summary: near
      ? `${told}: near the limit, not beyond it for certain.`
      : `${told}; ${figure(warm / 60, 0)} min at operating temperature${loaded ? ', full load included' : ', no full load seen'}.`,
  };
}

/** Whether samples are so far apart that the fluid can have been at the limit between two of them. */
function mayHaveBeenAbove(reading: Reading, limit: number): boolean {
  const unseen = unseenAbove(reading);
  return unseen > 0 && reading.peak + unseen >= limit;
}

function worstOf(all: readonly Seen[]): Worst | undefined {
  let worst: Worst | undefined;
  for (const { input, reading } of all) {
    for (const event of reading.events) {
      const { severity } = event;
      if (severity === undefined) continue;
      const more = worst === undefined ? 1 : RANK[severity] - RANK[worst.severity] || event.peak - worst.event.peak;
      if (more > 0) worst = { input, reading, event, severity };
    }
  }
  return worst;
}

/** The sump when it was read, else the place that was read longest. */
function leadingPlace(all: readonly Seen[]): Reading['place'] {
  const sump = all.find(({ reading }) => reading.place === 'sump');
  return (sump ?? all.reduce((a, b) => (b.reading.seen > a.reading.seen ? b : a))).reading.place;
}
