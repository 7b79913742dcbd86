import type { Drive } from '../derived/recipe.js';
import type { Assessment } from '../engine/assessment.js';
import type { Rule } from '../rules/rule.js';
import { evidenceFigures, figureOfEvent } from './evidence.js';
import type { Figure, Mark } from './figure.js';
import { type GearPlot, gearsOf } from './gears.js';
import { joinedMarks } from './marks.js';
import { type DriveOverview, overviewOf } from './overview.js';
import { knockMapOf, type SpeedLoadMap, trimMaps } from './speed-load-map.js';
import { type WarmUpPlot, warmUpOf } from './warm-up-plot.js';

/** What a page draws beside an assessment. Plain data; not part of the assessment's document. */
export interface Plots {
  /** Recordings in the order of the inputs; at most {@link MOST_DRIVES}, those with evidence first. */
  readonly drives: readonly DriveOverview[];
  /** Recordings that are not drawn, because there are too many. */
  readonly notDrawn: number;
  /** Figures of each finding, by its rule; a finding without figures has no course of time to show. */
  readonly evidence: readonly { readonly rule: string; readonly figures: readonly Figure[] }[];
  readonly warmUps: readonly WarmUpPlot[];
  readonly gears?: GearPlot;
  readonly maps: readonly SpeedLoadMap[];
}

const MOST_DRIVES = 8;
const MOST_WARM_UPS = 2;
/** Values of all figures together: what a page can carry. A recording of a gigabyte gives no more. */
const BUDGET = 110_000;
/** Traces that a figure has about, and bounds of its points. */
const TRACES = 6;
const POINTS = { least: 200, most: 1200 } as const;
/** A finding gets this many figures at most, and one when so many are there already (the weightiest come first). */
const FIGURES = { each: 3, many: 8 } as const;

/**
 * Everything that is worth drawing of one car. Pure: the same drives and assessment give the same data.
 * @param drives the recordings that the assessment was made from; read-outs and others may be absent
 */
export function plotsOf(assessment: Assessment, drives: readonly Drive[], rules: readonly Rule[]): Plots {
  const recordings = drives.filter(({ recording }) => recording.readOut === undefined);
  const byInput = new Map(recordings.map((drive) => [drive.input, drive]));
  const rank = { watch: 1, repair: 2, stop: 3 } as const;
  const found = assessment.results
    .flatMap((result) => (result.outcome === 'finding' ? [result] : []))
    .sort((a, b) => rank[b.severity ?? 'watch'] - rank[a.severity ?? 'watch'] || b.confidence - a.confidence);
  const overviews = Math.min(MOST_DRIVES, recordings.length) + MOST_WARM_UPS;
  const figures = found.length + FIGURES.many + overviews;
  const points = Math.round(Math.min(POINTS.most, Math.max(POINTS.least, BUDGET / TRACES / figures)));

  let drawn = 0;
  const evidence = found.flatMap((result) => {
    const rule = rules.find(({ id }) => id === result.rule);
    if (rule === undefined) return [];
    const own = evidenceFigures(result, rule, byInput, { figures: drawn < FIGURES.many ? FIGURES.each : 1, points });
    drawn += own.length;
    return [{ rule: result.rule, figures: own }];
  });

  const marks = new Map<number, Mark[]>();
  for (const result of found) {
    const own = evidence.find(({ rule }) => rule === result.rule)?.figures ?? [];
    for (const event of result.events) {
      const figure = figureOfEvent(own, event)?.id;
      const list = marks.get(event.input) ?? [];
      marks.set(event.input, list);
      list.push({
        from: event.from,
        to: event.to,
        rule: result.rule,
        severity: event.severity ?? result.severity ?? 'watch',
        ...(figure === undefined ? {} : { figure }),
      });
    }
  }

  const weight = ({ input }: Drive): number => (marks.get(input) ?? []).length;
  const shown = [...recordings]
    .sort((a, b) => weight(b) - weight(a) || a.input - b.input)
    .slice(0, MOST_DRIVES)
    .sort((a, b) => a.input - b.input);
  const warmUps: WarmUpPlot[] = [];
  for (const drive of recordings) {
    const plot = warmUps.length < MOST_WARM_UPS ? warmUpOf(drive.slow, points) : undefined;
    if (plot !== undefined) warmUps.push(plot);
  }
  const gears = mostGears(recordings);
  const knock = assessment.results.find(({ rule }) => rule === 'engine.knock');
  const knockMap = knockMapOf(knock !== undefined && 'details' in knock ? knock.details : undefined);
  return {
    drives: shown.flatMap(
      (drive) => overviewOf(drive, joinedMarks(marks.get(drive.input) ?? [], drive.recording.duration), points) ?? [],
    ),
    notDrawn: recordings.length - shown.length,
    evidence,
    warmUps,
    ...(gears === undefined ? {} : { gears }),
    maps: [...(knockMap === undefined ? [] : [knockMap]), ...trimMaps(recordings.map(({ slow }) => slow))],
  };
}

/** The drive that shows most gears, the first of equals. */
function mostGears(drives: readonly Drive[]): GearPlot | undefined {
  let best: GearPlot | undefined;
  for (const drive of drives) {
    const plot = gearsOf(drive);
    if (plot !== undefined && plot.ratios.length > (best?.ratios.length ?? 0)) best = plot;
  }
  return best;
}
