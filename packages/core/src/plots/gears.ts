import { RATIO_MATCHING } from '../derived/gear-knowledge.js';
import { LEARNED_RATIOS } from '../derived/ratio-clusters.js';
import { RATIO_SAMPLES } from '../derived/ratio-samples.js';
import { type Drive, isRefusal } from '../derived/recipe.js';
import { evenly } from '../math/evenly.js';

/** Engine (or turbine) speed over road speed, and the ratios that were learned from it. */
export interface GearPlot {
  readonly input: number;
  /** Channel of the shaft speed, and what the road speed is. */
  readonly shaft: string;
  readonly road: string;
  /** km/h, rpm. */
  readonly points: readonly (readonly [speed: number, shaft: number])[];
  /** rpm per km/h with standard uncertainty; the gear's number where it is known. */
  readonly ratios: readonly {
    readonly gear: number | null;
    readonly value: number;
    readonly u: number;
    readonly samples: number;
  }[];
}

const POINTS = 1200;

/** Undefined when no ratio was learned. */
export function gearsOf(drive: Drive): GearPlot | undefined {
  const learned = drive.derive(LEARNED_RATIOS);
  const samples = drive.derive(RATIO_SAMPLES);
  if (isRefusal(learned) || isRefusal(samples)) return undefined;
  const matching = drive.derive(RATIO_MATCHING);
  const rows = new Int32Array(samples.x.length);
  let count = 0;
  for (let k = 0; k < rows.length; k++) if (!Number.isNaN(samples.x[k]!)) rows[count++] = k;
  const chosen = evenly(rows.subarray(0, count), POINTS);
  const points: [number, number][] = [];
  for (const k of chosen) points.push([samples.v[k]!, samples.n[k]!]);
  return {
    input: drive.input,
    shaft: learned.shaft,
    road: samples.road,
    points,
    ratios: learned.ratios.map(({ value, u, samples: n, number }, index) => {
      const matched = isRefusal(matching) ? number : matching.matches.find((each) => each.index === index)?.gear;
      return { gear: matched === undefined || Number.isNaN(matched) ? null : matched, value, u, samples: n };
    }),
  };
}
