import { spoken } from '../channels/spoken.js';
import type { InputReport, Result } from '../engine/assessment.js';
import type { Spark } from '../plots/sparks.js';
import type { Measure, RuleEvent } from '../rules/rule.js';
import type { Block, Line, Span } from './document.js';
import { limits, measure, number, percent, span } from './format.js';
import { measureWords } from './measure-words.js';
import { sparkline } from './sparkline.js';

/** More events than this are summed up in one line; the JSON has them all. */
const EVENTS_SHOWN = 6;

/** What a finding rests on: when, measured, limits, confidence, what was assumed; then causes and what to do. */
export function findingBody(result: Result, files: readonly InputReport[], spark?: Spark): Block[] {
  if (result.outcome !== 'finding') return [];
  const blocks: Block[] = [];
  const rows: [string, Line][] = result.events
    .slice(0, EVENTS_SHOWN)
    .map((event, i) => [i === 0 ? 'When' : '', eventLine(event, files)]);
  if (result.events.length > EVENTS_SHOWN)
    rows.push(['', `and ${result.events.length - EVENTS_SHOWN} more (all in --json)`]);
  if (spark !== undefined) rows.push(['Course', sparkline(spark)]);
  if (Object.keys(result.measures).length > 0) rows.push(['Measured', measuresLine(result.rule, result.measures)]);
  if (result.limits.length > 0) rows.push(['Limits', limits(result.limits)]);
  rows.push(['Confidence', `${percent(result.confidence)}`]);
  for (const note of result.notes ?? []) rows.push(['Note', note]);
  blocks.push({ kind: 'facts', rows });
  if ((result.causes ?? []).length > 0)
    blocks.push({ kind: 'list', ordered: true, label: 'Likely    ', items: result.causes ?? [] });
  if ((result.advice ?? []).length > 0)
    blocks.push({ kind: 'list', ordered: true, label: 'Do next   ', items: result.advice ?? [] });
  return blocks;
}

function eventLine(event: RuleEvent, files: readonly InputReport[]): Line {
  const file = files.length > 1 ? `${files[event.input]?.file ?? ''} ` : '';
  const parts: (string | Span)[] = [`${file}${span(event.from, event.to)}`];
  if (event.severity !== undefined) parts.push(', ', { text: event.severity, tone: event.severity });
  for (const [name, value] of Object.entries(event)) {
    if (name === 'input' || name === 'from' || name === 'to' || name === 'severity' || value === undefined) continue;
    const shown =
      typeof value === 'object' ? measure(value) : typeof value === 'number' ? number(value) : worded(value);
    // `what` and `kind` name the event: "flare", "drop-out".
    const bare = name === 'what' || name === 'kind' || shown.startsWith(`${spoken(name)} `);
    parts.push(bare ? `, ${shown}` : `, ${spoken(name)} ${shown}`);
  }
  return parts;
}

/** Words as they stand; the id of a channel or wheel in words. */
function worded(text: string): string {
  return text.includes(' ') ? text : spoken(text);
}

function measuresLine(rule: string, measures: Readonly<Record<string, Measure>>): string {
  return Object.entries(measures)
    .map(([name, each]) => `${measureWords(rule, name)} ${measure(each)}`)
    .join('; ');
}
