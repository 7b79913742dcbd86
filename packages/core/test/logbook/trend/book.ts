import type { LogbookEntry, LogbookNote, NoteKind, TrackedMeasure } from '../../../src/logbook/entry.js';
import { dateOf, dayOf, YEAR } from '../../../src/logbook/trend/calendar.js';
import { evenly } from '../../math/random.js';

/** Standard normal numbers, the same for a seed: Box & Muller (1958). */
function normals(seed: number): () => number {
  const random = evenly(seed);
  return () => Math.sqrt(-2 * Math.log(1 - random())) * Math.cos(2 * Math.PI * random());
}

export const PRESSURE: TrackedMeasure = {
  id: 'oil.pressure',
  name: 'oil pressure',
  unit: 'bar',
  worse: 'lower',
  limit: { value: 1, name: 'watch', source: 'test' },
  rebaselinedBy: ['oil'],
  movedBy: ['ambientTemperature', 'load'],
};

export interface Month {
  readonly i: number;
  /** Years since the first drive. */
  readonly years: number;
  readonly ambient: number;
  readonly load: number;
  readonly noise: number;
}

export interface BookOptions {
  readonly months: number;
  readonly seed?: number;
  /** First drive. */
  readonly from?: string;
  readonly measures?: readonly TrackedMeasure[];
  /** Value of a measure in a month; undefined = absent. */
  readonly value: (month: Month, measure: TrackedMeasure) => number | undefined;
  /** Changes an entry at last. */
  readonly shape?: (entry: LogbookEntry, i: number) => LogbookEntry;
  readonly interval?: number;
}

/** One drive a month of an invented car: seasons, 1,200 km a month, own standard error of a third of a scatter of 1. */
export function bookOf(options: BookOptions): LogbookEntry[] {
  const { months, seed = 1, from = '2021-01-20', measures = [PRESSURE], value, shape = (entry) => entry } = options;
  const normal = normals(seed);
  const first = dayOf(from);
  return Array.from({ length: months }, (_, i) => {
    const day = first + (i * (options.interval ?? YEAR)) / (options.interval === undefined ? 12 : 1);
    const ambient = 10 - 10 * Math.cos((2 * Math.PI * (day - 20)) / YEAR) + 3 * normal();
    const load = 0.3 + 0.05 * normal();
    const years = (day - first) / YEAR;
    return shape(
      {
        hash: `h${String(i).padStart(4, '0')}`,
        car: 'own car',
        recordedAt: dateOf(day),
        distance: Math.round(40000 + 14400 * years),
        engineHours: null,
        measures: measures.flatMap((measure) => {
          const at = value({ i, years, ambient, load, noise: normal() }, measure);
          return at === undefined
            ? []
            : [{ id: measure.id, value: at, standardError: 0.3, samples: 20, unit: measure.unit }];
        }),
        covariates: { ambientTemperature: ambient, load, altitude: 100, fuel: null },
        summary: { level: 'sound', coverage: 1, index: { low: 100, high: 100 }, findings: [], unproven: [] },
      },
      i,
    );
  });
}

export function noteOf(kind: NoteKind, date: string, distance: number | null = null): LogbookNote {
  return { car: 'own car', date, distance, kind, text: `${kind} done` };
}
