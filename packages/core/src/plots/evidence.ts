import { firstAtOrAfter } from '../derived/intervals.js';
import type { Drive } from '../derived/recipe.js';
import type { Result } from '../engine/assessment.js';
import type { Limit, Rule, RuleEvent, Severity } from '../rules/rule.js';
import { comparedSources } from './compared.js';
import type { Figure, LimitLine, Mark, Panel } from './figure.js';
import { LEVELS, type Levels } from './levels.js';
import { channelSource, type Source } from './source.js';
import { bridged, type Grid, gridOf, thinned } from './thinning.js';

/** Shown before and after an event: this share of its length, and no less and no more than so many seconds. */
const AROUND = { share: 0.5, least: 5, most: 60 } as const;
/** Traces of the panel that carries the evidence, of each other panel, and panels. */
const MOST = { first: 6, other: 3, panels: 4 } as const;
/** What was going on, beside what is judged: in this order, as far as there is room. */
const SURROUNDINGS = ['engineSpeed', 'vehicleSpeed', 'pedalPosition', 'throttlePosition', 'gear'] as const;

const RANK: Readonly<Record<Severity, number>> = { watch: 1, repair: 2, stop: 3 };

export interface EvidenceWish {
  /** Figures of one finding at most. */
  readonly figures: number;
  /** Points of one figure at most. */
  readonly points: number;
}

type Finding = Extract<Result, { outcome: 'clear' | 'finding' }>;

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
  const marks = result.events
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
    marks,
  };
}

/** The panel that is judged first, then what else the rule reads, then the surroundings. */
function panelsOf(result: Finding, rule: Rule, drive: Drive, event: RuleEvent, grid: Grid): Panel[] {
  const levels = LEVELS[rule.id] ?? [];
  const sources = sourcesOf(rule, drive, event).filter((source) => moves(source, grid));
  const judged = sources.filter(({ id }) => !isSurrounding(id));
  const first =
    sources.find(({ family }) => levels.some(({ on }) => on === family)) ??
    judged.find((source) => attains(source, drive, event)) ??
    judged.find(({ unit }) => unit === event.peak?.unit) ??
    judged[0] ??
    sources[0];
  if (first === undefined) return [];
  const wanted = [first.unit, ...judged.map(({ unit }) => unit)];
  const units = [...new Set(wanted)].slice(0, 2);
  const groups = units.map((unit) =>
    sources.filter(
      (each) => each.unit === unit && each.drawn === 'line' && (each === first || !isSurrounding(each.id)),
    ),
  );
  if (first.drawn === 'steps') groups[0] = [first];
  for (const id of SURROUNDINGS) {
    const source = sources.find((each) => each.id === id);
    const shown = groups.some((group) => group.some((each) => each.id === id));
    if (source !== undefined && !shown) groups.push([source]);
  }
  return groups
    .filter((group) => group.length > 0)
    .slice(0, MOST.panels)
    .map((group, k) =>
      panelOf(weightiest(group, first, k === 0 ? MOST.first : MOST.other), result, levels, event, grid),
    );
}

function panelOf(
  sources: readonly Source[],
  result: Finding,
  levels: readonly Levels[],
  event: RuleEvent,
  grid: Grid,
): Panel {
  return {
    unit: sources[0]!.unit,
    traces: sources.map(({ id, name, drawn, values, bridge }) => ({
      id,
      name,
      drawn,
      bridge: bridged(bridge, grid),
      values: thinned(values, grid),
    })),
    limits: sources.reduce<LimitLine[]>((lines, { family, unit }) => {
      const own = levels.find(({ on }) => on === family);
      for (const limit of own === undefined ? [] : result.limits) {
        const line = lineOf(limit, own!, unit, event);
        if (line !== undefined && !lines.some((each) => each.name === line.name)) lines.push(line);
      }
      return lines;
    }, []),
  };
}

function lineOf(limit: Limit, { limits }: Levels, unit: string, event: RuleEvent): LimitLine | undefined {
  const side = limits[limit.name];
  if (side === undefined || limit.unit !== unit) return undefined;
  const peak = event.peak?.value;
  const sign = side === 'event' ? (typeof peak === 'number' && peak < 0 ? -1 : 1) : side;
  return {
    name: limit.name,
    value: sign * limit.value,
    source: limit.source === 'profile' ? 'your profile' : limit.source,
  };
}

/** What the event names comes first; of the others as many as there is room for. */
function weightiest(group: readonly Source[], first: Source, most: number): readonly Source[] {
  const ordered = [...group].sort((a, b) => Number(b.family === first.family) - Number(a.family === first.family));
  return ordered.slice(0, most);
}

function isSurrounding(id: string): boolean {
  return (SURROUNDINGS as readonly string[]).includes(id);
}

/** Computed quantities, needed channels, optional channels, surroundings: each once, members of a family as the event names them. */
function sourcesOf(rule: Rule, drive: Drive, event: RuleEvent): Source[] {
  const named = namedPlaces(event);
  const found = new Map<string, Source>();
  for (const source of comparedSources(rule.id, drive, event)) found.set(source.id, source);
  for (const id of [...rule.needs.channels, ...rule.needs.optional, ...SURROUNDINGS]) {
    const members = drive.channel(id) === undefined || !id.includes('.') ? drive.family(id) : [drive.channel(id)!];
    const chosen = members.filter((member) => named.has(member.id) || named.has(member.id.split('.')[1] ?? ''));
    for (const member of chosen.length > 0 ? chosen : members) {
      const source = found.has(member.id) ? undefined : channelSource(drive, member);
      if (source !== undefined) found.set(member.id, source);
    }
  }
  return [...found.values()];
}

/** `bank1`, `cylinder3`, `frontLeft`, a channel id: what the event says it is about. */
function namedPlaces(event: RuleEvent): Set<string> {
  const named = new Set<string>();
  for (const [key, value] of Object.entries(event)) {
    if (typeof value === 'string') named.add(value);
    const number = typeof value === 'object' ? value.value : value;
    if (typeof number === 'number' && Number.isInteger(number)) named.add(`${key}${number}`);
  }
  return named;
}

/** Has samples in the window. */
function moves({ values }: Source, { edges }: Grid): boolean {
  for (let i = edges[0]!; i < edges[edges.length - 1]!; i++) if (!Number.isNaN(values[i]!)) return true;
  return false;
}

/** The event's peak is an extreme of the quantity within the event, to 1 %. */
function attains({ values, unit }: Source, { time }: Drive, { from, to, peak }: RuleEvent): boolean {
  if (typeof peak?.value !== 'number' || peak.unit !== unit) return false;
  let low = Number.POSITIVE_INFINITY;
  let high = Number.NEGATIVE_INFINITY;
  for (let i = firstAtOrAfter(time, from); i < time.length && time[i]! <= to; i++) {
    const value = values[i]!;
    if (value < low) low = value;
    if (value > high) high = value;
  }
  const near = Math.max(1e-6, 0.01 * Math.abs(peak.value));
  return Math.abs(high - peak.value) <= near || Math.abs(low - peak.value) <= near;
}
