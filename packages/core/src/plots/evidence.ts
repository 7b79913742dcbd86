import type { Drive } from '../derived/recipe.js';
import type { Rule, RuleEvent, Severity } from '../rules/rule.js';
import { type Finding, panelsOf } from './evidence-panels.js';
import type { Figure, Mark } from './figure.js';
import { joinedMarks } from './marks.js';
import { gridOf } from './thinning.js';

/** Shown before and after an event: this share of its length, and no less and no more than so many seconds. */
const AROUND = { share: 0.5, least: 5, most: 60 } as const;

const RANK: Readonly<Record<Severity, number>> = { watch: 1, repair: 2, stop: 3 };

export interface EvidenceWish {
  /** Figures of one finding at most. */
  readonly figures: number;
  /** Points of one figure at most. */
  readonly points: number;
}

/**
 * Figures of one finding: its gravest events first, each with what the rule compared around it. Events that lie within a
 * figure are marked there and get none of their own. Empty where the evidence has no course of time (what was read out),
 * or none of the rule's channels can be drawn.
 */
export function evidenceFigures(
  result: Finding,
  rule: Rule,
  drives: ReadonlyMap<number, Drive>,
  wish: EvidenceWish,
): Figure[] {
  const { severity = 'watch' } = result;
  const timed = result.events.filter(({ input }) => drives.get(input)?.recording.readOut === undefined);
  const ordered = [...timed].sort((a, b) => RANK[b.severity ?? severity] - RANK[a.severity ?? severity]);
  const figures: Figure[] = [];
  for (const event of ordered) {
    const drive = drives.get(event.input);
    if (drive === undefined || figures.length === wish.figures) continue;
    if (figures.some((figure) => holds(figure, event))) continue;
    const id = `${rule.id.replace(/[^a-z0-9]+/gi, '-')}-${figures.length + 1}`;
    const figure = figureOf(id, result, rule, drive, event, wish.points);
    if (figure !== undefined) figures.push(figure);
  }
  return figures;
}

/** The figure of a finding that shows an event; undefined when none does. */
export function figureOfEvent(figures: readonly Figure[], event: RuleEvent): Figure | undefined {
  return figures.find((figure) => holds(figure, event));
}

function holds({ input, time }: Figure, event: RuleEvent): boolean {
  return input === event.input && time[0]! <= event.from && event.to <= time[time.length - 1]!;
}

function figureOf(
  id: string,
  result: Finding,
  rule: Rule,
  drive: Drive,
  event: RuleEvent,
  most: number,
): Figure | undefined {
  const { severity = 'watch' } = result;
  const pad = Math.min(AROUND.most, Math.max(AROUND.least, AROUND.share * (event.to - event.from)));
  const grid = gridOf(drive.time, event.from - pad, event.to + pad, most);
  if (grid.time.length < 2) return undefined;
  const panels = panelsOf(result, rule, drive, event, grid);
  if (panels.length === 0) return undefined;
  const [from, to] = [grid.time[0]!, grid.time[grid.time.length - 1]!];
  const own = result.events
    .filter((each) => each.input === event.input && each.to >= from && each.from <= to)
    .map(
      (each): Mark => ({
        from: each.from,
        to: each.to,
        rule: rule.id,
        severity: each.severity ?? severity,
        figure: id,
      }),
    );
  return {
    id,
    title: rule.id,
    input: event.input,
    time: Array.from(grid.time),
    step: grid.step,
    panels,
    marks: marksOf(own, event, to - from),
  };
}

/** The event that the figure was made for comes first, as it is; the others joined where they cannot be told apart. */
function marksOf(marks: readonly Mark[], event: RuleEvent, length: number): Mark[] {
  const own = marks.find(({ from, to }) => from === event.from && to === event.to);
  const others = joinedMarks(
    marks.filter((mark) => mark !== own),
    length,
  );
  return own === undefined ? others : [own, ...others];
}
