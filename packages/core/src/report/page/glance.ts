import { spoken } from '../../channels/spoken.js';
import type { Assessment, Level, Result, SystemVerdict } from '../../engine/assessment.js';
import type { Plan } from '../../plan/plan.js';
import { MEANING, rank, tally } from '../assessment-document.js';
import { SAID } from '../decision-blocks.js';
import { number, percent } from '../format.js';
import { escaped } from '../page-shell.js';

/** Outlines of the levels: each has a shape of its own besides its word and colour (24 x 24). */
const SHAPES: Readonly<Record<Level, string>> = {
  sound: '<circle cx="12" cy="12" r="9"/><path d="M7.5 12.5l3 3 6-7"/>',
  watch: '<path d="M12 3L22 20.5H2Z"/><path d="M12 9v6M12 17.2v.6"/>',
  repair: '<path d="M12 2L22 12L12 22L2 12Z"/><path d="M12 7v6M12 16v.6"/>',
  stop: '<path d="M8 2.5h8L21.500 8v8L16 21.500H8L2.500 16V8Z"/><path d="M7 12h10"/>',
  unproven:
    '<circle cx="12" cy="12" r="9" stroke-dasharray="3.2 2.5"/><path d="M9.500 9.500a2.500 2.500 0 1 1 2.500 3v1.500M12 16.600v.6"/>',
};

/** A level as its shape and its word. */
export function badge(level: Level): string {
  return `<span class="badge ${level}"><svg viewBox="0 0 24 24" aria-hidden="true">${SHAPES[level]}</svg>${level}</span>`;
}

/** What somebody reads in ten seconds: what to do with the car, the three weightiest reasons, and what comes next. */
export function heroHtml(
  assessment: Assessment,
  anchors: ReadonlyMap<string, string>,
  plan: Plan | undefined,
): string[] {
  const { decision, verdict, vehicle, results } = assessment;
  const { text, means, tone } = SAID[decision.action];
  const next = nextSteps(assessment, plan);
  const more = decision.reasons.length - 3;
  return [
    `<header class="hero act-${tone}">`,
    `<p class="kicker">telltale: what the recordings of this car show${vehicle.id === '' ? '' : ` <b>${escaped(vehicle.id)}</b>`}</p>`,
    `<h1>Buyer: <strong>${escaped(text.toLowerCase())}</strong> <span>${escaped(means)}</span></h1>`,
    '<div class="verdict">',
    `<p>Verdict of the evidence ${badge(verdict.level)} ${escaped(MEANING[verdict.level])}</p>`,
    ...gauges(assessment),
    '</div>',
    '<div class="columns">',
    '<section aria-labelledby="why"><h2 id="why">Why</h2><ol class="reasons">',
    ...decision.reasons.slice(0, 3).map((reason) => `<li>${reasonHtml(reason, results, anchors)}</li>`),
    '</ol>',
    ...(more > 0 ? [`<p class="quiet">and ${more} more, below</p>`] : []),
    '</section>',
    '<section aria-labelledby="next"><h2 id="next">What to do</h2><ol>',
    ...next.map((step) => `<li>${escaped(step)}</li>`),
    '</ol></section>',
    '</div>',
    '</header>',
  ];
}

/** The first sentence carries the weight; what follows is quieter. A reason that is a finding leads to it. */
function reasonHtml(reason: string, results: readonly Result[], anchors: ReadonlyMap<string, string>): string {
  const rule = results.find(({ summary }) => summary === reason)?.rule;
  const end = endOfFirst(reason);
  const [first, rest] = [reason.slice(0, end), reason.slice(end)];
  const anchor = rule !== undefined ? anchors.get(rule) : reason.startsWith('Seen by eye') ? 'seen' : undefined;
  const link =
    anchor === undefined
      ? ''
      : ` <a href="#${anchor}">evidence<span class="aside"> for ${escaped(rule ?? 'what was seen by eye')}</span></a>`;
  return `<b>${escaped(first)}</b>${escaped(rest)}${link}`;
}

/** Where the first statement ends: at a full stop or semicolon outside of brackets, not in the first words. */
function endOfFirst(text: string): number {
  let depth = 0;
  for (let i = 0; i < text.length; i++) {
    if (text[i] === '(') depth++;
    else if (text[i] === ')') depth--;
    else if (i > 20 && depth === 0 && (text[i] === '.' || text[i] === ';') && text[i + 1] === ' ') return i + 1;
  }
  return text.length;
}

/** Cheapest test of each of the weightiest findings; without findings the shortest drive that would show what is missing. */
function nextSteps({ verdict, decision, results, chains }: Assessment, plan: Plan | undefined): string[] {
  const steps: string[] = [];
  const add = (step: string | undefined, about = ''): void => {
    const text = about === '' ? step : `${about}: ${step}`;
    if (step !== undefined && !steps.some((each) => each.endsWith(step)) && steps.length < 3) steps.push(text!);
  };
  if (decision.action === 'walk-away') add('Leave it where it is, and do not drive it hard.');
  const found = results.flatMap((each) => (each.outcome === 'finding' ? [each] : [])).sort((a, b) => rank(b) - rank(a));
  const [worst, ...others] = found;
  if (worst !== undefined) add(worst.advice?.[0], systemOf(worst.rule));
  // Who leaves asks nothing more.
  if (decision.action !== 'walk-away') add(decision.questions[0]?.question, 'Ask the seller');
  for (const { tests, suspects } of chains ?? []) add(tests[0]?.test, systemOf(suspects[0]?.signs[0]?.rule ?? ''));
  if (decision.sum !== undefined && decision.sum.high > 0)
    add(
      `By your price list the findings justify ${decision.sum.currency} ${number(decision.sum.low, 9)} to ${number(decision.sum.high, 9)}.`,
    );
  for (const { advice, rule } of others) add(advice?.[0], systemOf(rule));
  // Nobody is sent to drive a car that is not to be driven hard.
  const drivable = verdict.level !== 'stop' && decision.action !== 'walk-away';
  if (plan?.first !== undefined && drivable && (decision.action === 'record-more' || steps.length < 3)) {
    const titles = plan.first.phases.map((id) => plan.phases.find((phase) => phase.id === id)?.title ?? id);
    add(`Record what is missing: ${titles.join(', ').toLowerCase()} (${plan.first.duration.value} min).`);
  }
  if (steps.length < 3)
    add('Have a qualified technician look at what no recording shows: corrosion, cracks, leaks, play.');
  return steps;
}

/** `Transmission` of `transmission.pressure`. */
function systemOf(rule: string): string {
  const system = spoken(rule.split('.')[0]!);
  return system.charAt(0).toUpperCase() + system.slice(1);
}

/** Coverage and health index as bars with their numbers beside them. */
function gauges({ verdict }: Assessment): string[] {
  const { coverage, index } = verdict;
  const [low, high] = [Math.round(index.low), Math.round(index.high)];
  return [
    '<dl class="gauges">',
    `<dt>Shown</dt><dd>${barHtml(0, 100 * coverage)}<b>${escaped(percent(coverage))}</b> of the checks could be made</dd>`,
    `<dt>Health index</dt><dd>${barHtml(index.low, index.high)}<b>${number(low)} to ${number(high)}</b> of 100, the wider the less was seen</dd>`,
    '</dl>',
  ];
}

/** A stretch of 0 to 100 as a bar; its numbers stand beside it. */
export function barHtml(from: number, to: number): string {
  const width = Math.max(1, to - from);
  return `<svg class="bar" viewBox="0 0 100 8" preserveAspectRatio="none" aria-hidden="true"><rect class="ground" width="100" height="8"/><rect x="${from.toFixed(1)}" width="${width.toFixed(1)}" height="8"/></svg>`;
}

/** One card a system. */
export function systemsHtml({ systems, results }: Assessment): string[] {
  if (systems.length === 0) return [];
  return [
    '<section id="systems" aria-labelledby="systems-h"><h2 id="systems-h">Systems at a glance</h2><ul class="systems">',
    ...systems.map(
      (system: SystemVerdict) =>
        `<li class="${system.level}"><h3>${escaped(spoken(system.id))}</h3>${badge(system.level)}<p>${barHtml(0, 100 * system.coverage)}${escaped(percent(system.coverage))} shown</p><p class="quiet">${escaped(tally(results, system.id))}</p></li>`,
    ),
    '</ul></section>',
  ];
}
