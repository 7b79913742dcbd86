import { spoken } from '../../channels/spoken.js';
import type { Assessment, InputReport, Result } from '../../engine/assessment.js';
import type { Plan } from '../../plan/plan.js';
import type { Figure } from '../../plots/figure.js';
import type { DriveOverview } from '../../plots/overview.js';
import type { Plots } from '../../plots/plots.js';
import { clearLine, type RuleText, rank } from '../assessment-document.js';
import { chainBlocks } from '../chain-blocks.js';
import { negotiationBlocks, SAID, seenBlocks } from '../decision-blocks.js';
import type { Block } from '../document.js';
import { findingBody } from '../finding-blocks.js';
import { clock, quantity, span } from '../format.js';
import { blockLines } from '../html.js';
import { STYLE } from '../html-style.js';
import { escaped, pageOf, scrollOf } from '../page-shell.js';
import { figureHtml, phaseStrip, type StripRow, stripHtml } from './figure-html.js';
import { filesHtml } from './files-html.js';
import { gearHtml } from './gear-svg.js';
import { badge, heroHtml, systemsHtml } from './glance.js';
import { mapHtml } from './map-html.js';
import { openHtml } from './open-html.js';
import { PAGE_STYLE } from './page-style.js';
import { type PlotData, plotData } from './plot-data.js';

interface Body {
  readonly head: readonly string[];
  readonly sections: readonly (readonly string[])[];
}

export interface PageOptions {
  readonly rules: readonly RuleText[];
  /** What is drawn; absent = a page without plots. */
  readonly plots?: Plots;
  /** What would show the rest. */
  readonly plan?: Plan;
  /** The script that makes the drawings live; absent = they stay still, and the page allows no script. */
  readonly script?: string;
}

/**
 * The health report as one self-contained page: decision, verdict, reasons and what to do first; systems; the drives; each
 * finding with its plots; maps; what is clear and what was not shown, with the plan; cautions; how the files were read. No
 * network; works from disk; prints. Same input, same bytes.
 */
export function assessmentPage(assessment: Assessment, options: PageOptions): string {
  const { script, plots } = options;
  const drawn = plots !== undefined && script !== undefined;
  const { vehicle, decision } = assessment;
  const body = bodyOf(assessment, options);
  return pageOf({
    title: `${SAID[decision.action].text.toLowerCase()}${vehicle.id === '' ? '' : `, ${vehicle.id}`} – telltale`,
    style: STYLE + PAGE_STYLE,
    body: [...body.head, '<main id="report" tabindex="-1">', ...body.sections.flat(), '</main>'],
    ...(drawn ? { script, data: { 'plot-data': plotData(plots) } } : {}),
  });
}

/** A report to be put into another page: what stands before its `main`, the sections in it, the data of its live plots. */
export interface ReportParts {
  readonly head: string;
  readonly sections: readonly string[];
  readonly data: PlotData;
}

/** Whole elements each, so that a page can take them one after the other. */
export function reportParts(assessment: Assessment, options: PageOptions): ReportParts {
  const { head, sections } = bodyOf(assessment, options);
  return {
    head: head.join('\n'),
    sections: sections.map((lines) => lines.join('\n')),
    data: options.plots === undefined ? {} : plotData(options.plots),
  };
}

function bodyOf(assessment: Assessment, { rules, plots, plan }: PageOptions): Body {
  const { results, inputs } = assessment;
  const findings = results.filter(({ outcome }) => outcome === 'finding').sort((a, b) => rank(b) - rank(a));
  const clear = results.filter(({ outcome }) => outcome === 'clear');
  const open = results.filter(({ outcome }) => outcome === 'unproven' || outcome === 'error');
  const anchors = new Map(findings.map(({ rule }) => [rule, `finding-${rule.replace(/[^a-z0-9]+/gi, '-')}`]));
  const questions = new Map(rules.map(({ id, question }) => [id, question]));
  const files = inputs.length > 1 ? inputs : [];
  const sections: readonly (readonly [id: string, title: string, lines: readonly string[]])[] = [
    ['findings', 'Findings', findings.flatMap((each) => findingHtml(each, anchors, questions, plots, inputs))],
    ['drives', (plots?.drives.length ?? 0) > 1 ? 'The drives' : 'The drive', drivesHtml(plots, anchors, files)],
    ['parts', 'Which part is it?', chainBlocks(assessment).flatMap((block) => below(block, 'Which part is it?'))],
    ['seen', 'Seen by eye', seenBlocks(assessment).flatMap((block) => below(block, 'Seen by eye'))],
    ['money', 'To negotiate', negotiationBlocks(assessment.decision).flatMap((block) => below(block))],
    ['maps', 'Maps and curves', learnedHtml(plots, files)],
    ['clear', 'Clear', clearHtml(clear)],
    ['open', 'Not shown', openHtml(open, questions, plan, assessment.verdict.level === 'stop')],
    ['cautions', 'Cautions', [`<ul>${assessment.cautions.map((each) => `<li>${escaped(each)}</li>`).join('')}</ul>`]],
    ['inputs', 'Files', filesHtml(inputs)],
  ];
  const shown = sections.filter(([, , lines]) => lines.length > 0);
  const systems = systemsHtml(assessment);
  const links = [...(systems.length === 0 ? [] : [['systems', 'Systems'] as const]), ...shown];
  return {
    head: [
      '<a class="skip" href="#report">to the report</a>',
      ...heroHtml(assessment, anchors, plan),
      `<nav aria-label="Parts of the report"><ul>${links.map(([id, title]) => `<li><a href="#${id}">${escaped(title)}</a></li>`).join('')}</ul></nav>`,
    ],
    sections: [
      ...(systems.length === 0 ? [] : [systems]),
      ...shown.map(([id, title, lines]) => [
        `<section id="${id}" aria-labelledby="${id}-h"><h2 id="${id}-h">${escaped(title)}</h2>`,
        ...lines,
        '</section>',
      ]),
    ],
  };
}

/** A block's heading one step lower, because the section has its own; none when it would say the same again. */
function below(block: Block, title = ''): string[] {
  if (block.kind !== 'heading') return blockLines(block);
  if (block.text === title) return block.note === undefined ? [] : [`<p class="quiet">${escaped(block.note)}</p>`];
  const note = block.note === undefined ? '' : ` <small>${escaped(block.note)}</small>`;
  return [`<h3>${escaped(block.text)}${note}</h3>`];
}

function findingHtml(
  result: Result,
  anchors: ReadonlyMap<string, string>,
  questions: ReadonlyMap<string, string>,
  plots: Plots | undefined,
  inputs: readonly InputReport[],
): string[] {
  if (result.outcome !== 'finding') return [];
  const severity = result.severity ?? 'watch';
  const figures = plots?.evidence.find(({ rule }) => rule === result.rule)?.figures ?? [];
  return [
    `<article class="finding ${severity}" id="${anchors.get(result.rule)}">`,
    `<h3>${badge(severity)} <b>${escaped(result.rule)}</b> <span class="quiet">${escaped(questions.get(result.rule) ?? '')}</span></h3>`,
    `<p class="says">${escaped(result.summary)}</p>`,
    '<div class="evidence">',
    ...figures.flatMap((figure, k) => figureHtml(figure, captionOf(figure, result.rule, inputs, k, figures.length))),
    ...(plots !== undefined && figures.length === 0
      ? [
          '<p class="quiet">No plot: this rests on what was read out or counted, or on channels without a course of time.</p>',
        ]
      : []),
    '</div><div class="details">',
    ...findingBody(result, inputs).flatMap((block) => below(block)),
    '</div></article>',
  ];
}

function captionOf(figure: Figure, rule: string, inputs: readonly InputReport[], k: number, count: number): string {
  const file = inputs.length > 1 ? `${inputs[figure.input]?.file ?? ''}, ` : '';
  const [event] = figure.marks;
  const when = event === undefined ? '' : `, event ${span(event.from, event.to)}`;
  return `${rule}${count > 1 ? ` (${k + 1} of ${count})` : ''}: ${file}${span(figure.time[0]!, figure.time[figure.time.length - 1]!)}${when}`;
}

function drivesHtml(
  plots: Plots | undefined,
  anchors: ReadonlyMap<string, string>,
  files: readonly InputReport[],
): string[] {
  if (plots === undefined || plots.drives.length === 0) return [];
  return [
    ...plots.drives.flatMap((drive) => driveHtml(drive, anchors, files)),
    ...(plots.notDrawn > 0
      ? [`<p class="quiet">${plots.notDrawn} more recordings are not drawn; they were judged all the same.</p>`]
      : []),
  ];
}

/** The drive, its phases below, and a row a finding that leads to the evidence. */
function driveHtml(
  { input, figure, phases }: DriveOverview,
  anchors: ReadonlyMap<string, string>,
  files: readonly InputReport[],
): string[] {
  const [from, to] = [figure.time[0]!, figure.time[figure.time.length - 1]!];
  const name = files[input]?.file;
  const grave = { watch: 1, repair: 2, stop: 3 } as const;
  const rules = [
    ...new Set([...figure.marks].sort((a, b) => grave[b.severity] - grave[a.severity]).map(({ rule }) => rule)),
  ];
  const found = rules.map((rule): StripRow => {
    const marks = figure.marks.filter((mark) => mark.rule === rule);
    const links = marks
      .slice(0, 4)
      .map(
        (mark) =>
          `<a href="#${mark.figure ?? anchors.get(rule) ?? ''}" data-from="${mark.from.toFixed(2)}" data-to="${mark.to.toFixed(2)}">${escaped(clock(mark.from))}<span class="aside"> ${escaped(rule)}</span></a>`,
      );
    return {
      name: `${badge(marks[0]!.severity)} ${escaped(rule)}`,
      tone: marks[0]!.severity,
      stretches: marks.map((mark) => [mark.from, mark.to]),
      says: `${links.join(' ')}${marks.length > 4 ? ` +${marks.length - 4}` : ''}`,
    };
  });
  return [
    '<div class="drive">',
    ...figureHtml(figure, name === undefined ? `The whole drive, ${clock(to - from)}` : `${name}, ${clock(to - from)}`),
    ...stripHtml(
      [...found, ...phaseStrip(phases)],
      from,
      to,
      'What happened when: findings with their evidence, phases with their time',
    ),
    '</div>',
  ];
}

function learnedHtml(plots: Plots | undefined, files: readonly InputReport[]): string[] {
  if (plots === undefined) return [];
  return [
    ...(plots.maps.length === 0 ? [] : ['<div class="maps">', ...plots.maps.flatMap(mapHtml), '</div>']),
    '<div class="curves">',
    ...(plots.gears === undefined ? [] : gearHtml(plots.gears)),
    ...plots.warmUps.flatMap(({ figure, fluids, input }) => [
      '<div>',
      ...figureHtml(figure, `Warm-up${files[input] === undefined ? '' : ` in ${files[input].file}`}`),
      scrollOf('warm-up'),
      '<table><thead><tr><td></td><th scope="col">fitted</th><th scope="col">from</th><th scope="col">to</th><th scope="col">time constant</th></tr></thead><tbody>',
      ...fluids.map(
        ({ channel, from, to, first, last, tau }) =>
          `<tr><th scope="row">${escaped(spoken(channel))}</th><td>${escaped(span(from, to))}</td><td>${escaped(quantity(Math.round(first * 10) / 10, 'degC'))}</td><td>${escaped(quantity(Math.round(last * 10) / 10, 'degC'))}</td><td>${tau === null ? 'not to be told' : escaped(quantity(tau, 's', 2))}</td></tr>`,
      ),
      '</tbody></table></div></div>',
    ]),
    '</div>',
  ];
}

function clearHtml(results: readonly Result[]): string[] {
  if (results.length === 0) return [];
  return [
    '<p>Looked at, and inside the limits.</p>',
    '<dl class="clear-list">',
    ...results.map((each) => `<dt>${escaped(each.rule)}</dt><dd>${escaped(clearLine(each))}</dd>`),
    '</dl>',
  ];
}
