import { firstAtOrAfter } from '../derived/intervals.js';
import type { Drive } from '../derived/recipe.js';
import type { Result } from '../engine/assessment.js';
import type { Limit, Rule, RuleEvent } from '../rules/rule.js';
import { comparedSources } from './compared.js';
import type { LimitLine, Panel } from './figure.js';
import { LEVELS, type Levels } from './levels.js';
import { channelSource, type Source } from './source.js';
import { bridged, type Grid, thinned } from './thinning.js';

export type Finding = Extract<Result, { outcome: 'clear' | 'finding' }>;

/** Traces of the panel that carries the evidence, of each other panel, and panels. */
const MOST = { first: 6, other: 4, panels: 4 } as const;
/** What was going on, beside what is judged: in this order, as far as there is room. */
const SURROUNDINGS = ['engineSpeed', 'vehicleSpeed', 'pedalPosition', 'throttlePosition', 'gear'] as const;
/** What is looked at first where neither a limit nor the peak of an event tells: by rule. */
const FIRST: Readonly<Record<string, string>> = {
  'transmission.shift-quality': 'engineSpeed',
  'transmission.ratio': 'engineSpeed',
  'transmission.selection': 'gear',
  'transmission.gear-coverage': 'gear',
  'engine.idle': 'engineSpeed',
  'engine.smoothness': 'engineSpeed',
  'engine.start-quality': 'engineSpeed',
};
/** A difference of temperatures is seen on the axis of the temperatures. */
const AXIS: Readonly<Record<string, string>> = { K: 'degC' };

/** The panel that is judged first, then what else the rule reads, then the surroundings. */
export function panelsOf(result: Finding, rule: Rule, drive: Drive, event: RuleEvent, grid: Grid): Panel[] {
  const levels = LEVELS[rule.id] ?? [];
  const sources = sourcesOf(rule, drive, event).filter((source) => moves(source, grid));
  const judged = sources.filter(({ id }) => !isSurrounding(id));
  const axis = AXIS[event.peak?.unit ?? ''] ?? event.peak?.unit;
  const first =
    sources.find(({ family }) => levels.some(({ on }) => on === family)) ??
    sources.find(({ id }) => id === FIRST[rule.id]) ??
    judged.find((source) => attains(source, drive, event)) ??
    judged.find(({ unit }) => unit === axis) ??
    judged[0] ??
    sources[0];
  if (first === undefined) return [];
  // What the rule needs belongs to what it compares, even where it is shown with everything else.
  const compared = sources.filter(
    (each) =>
      each === first || !isSurrounding(each.id) || (rule.needs.channels.includes(each.id) && each.unit === first.unit),
  );
  const groups = groupsOf(first, compared).slice(0, 2);
  for (const id of SURROUNDINGS) {
    const source = sources.find((each) => each.id === id);
    const shown = groups.some((group) => group.some((each) => each.id === id));
    if (source !== undefined && !shown) groups.push([source]);
  }
  return groups
    .slice(0, MOST.panels)
    .map((group, k) =>
      panelOf(weightiest(group, first, grid, k === 0 ? MOST.first : MOST.other), result, levels, event, grid),
    );
}

/** Lines of one unit share a panel; each state has its own, because its values are names. The first source's comes first. */
function groupsOf(first: Source, sources: readonly Source[]): Source[][] {
  const groups = new Map<string, Source[]>([[keyOf(first), []]]);
  for (const source of sources) {
    const group = groups.get(keyOf(source)) ?? [];
    groups.set(keyOf(source), group);
    group.push(source);
  }
  return [...groups.values()];
}

function keyOf({ id, family, unit, drawn, apart }: Source): string {
  return drawn === 'steps' ? id : apart === true ? family : unit;
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
    traces: sources.map(({ id, name, drawn, states, values, bridge }) => ({
      id,
      name,
      drawn,
      bridge: bridged(bridge, grid),
      values: thinned(values, grid),
      ...(states === undefined ? {} : { states }),
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

/** The family that is judged, and of more members than there is room for those that move most; in their own order. */
function weightiest(group: readonly Source[], first: Source, grid: Grid, most: number): readonly Source[] {
  if (group.length <= most) return group;
  const weight = new Map(
    group.map((source) => [source, source === first ? Number.POSITIVE_INFINITY : reachOf(source, grid)]),
  );
  const chosen = [...group]
    .sort(
      (a, b) =>
        Number(b.family === first.family) - Number(a.family === first.family) || weight.get(b)! - weight.get(a)!,
    )
    .slice(0, most);
  return group.filter((source) => chosen.includes(source));
}

/** Greatest less least value in the window. */
function reachOf({ values }: Source, { edges }: Grid): number {
  let low = Number.POSITIVE_INFINITY;
  let high = Number.NEGATIVE_INFINITY;
  for (let i = edges[0]!; i < edges[edges.length - 1]!; i++) {
    if (values[i]! < low) low = values[i]!;
    if (values[i]! > high) high = values[i]!;
  }
  return high >= low ? high - low : 0;
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
