import type { Result } from '../../engine/assessment.js';
import type { Plan } from '../../plan/plan.js';
import { escaped, scrollOf } from '../page-shell.js';

/** Neither good nor bad: why, and what would show it; then the plan that shows most of it. */
export function openHtml(
  results: readonly Result[],
  questions: ReadonlyMap<string, string>,
  plan: Plan | undefined,
  stopped: boolean,
): string[] {
  if (results.length === 0) return [];
  return [
    '<p>Neither good nor bad: the recordings cannot tell.</p>',
    ...planHtml(plan, stopped),
    scrollOf('not shown'),
    '<table class="open-list"><thead><tr><th scope="col">question</th><th scope="col">why not</th><th scope="col">what would show it</th></tr></thead><tbody>',
    ...results.map(
      (each) =>
        `<tr><th scope="row">${escaped(each.rule)}<br><span class="quiet">${escaped(questions.get(each.rule) ?? '')}</span></th><td>${escaped(each.summary)}</td><td>${each.outcome === 'unproven' ? escaped(each.proves) : ''}</td></tr>`,
    ),
    '</tbody></table></div>',
  ];
}

function planHtml(plan: Plan | undefined, stopped: boolean): string[] {
  if (plan === undefined || plan.phases.length === 0) return [];
  const first = new Set(plan.first?.phases ?? []);
  return [
    `<h3>The drive that would show it, about ${plan.duration.value} minutes${plan.first === undefined ? '' : `; the weightiest in ${plan.first.duration.value}`}</h3>`,
    ...(stopped
      ? ['<p class="caution"><b>Nothing of this is driven before what says stop was looked at and mended.</b></p>']
      : []),
    '<ol class="plan">',
    ...plan.phases.map(
      ({ id, title, duration, where, proves, cautions }) =>
        `<li><b>${escaped(title)}</b>${first.has(id) ? ' <span class="first">first</span>' : ''} <span class="quiet">${duration.value} min${where === 'closed-course' ? ', closed course or dynamometer only' : ''}; shows ${escaped(proves.join(', '))}</span>${where === 'closed-course' && cautions.length > 0 ? `<br><span class="caution">${escaped(cautions[0]!)}</span>` : ''}</li>`,
    ),
    '</ol>',
    ...(plan.readOuts.length > 0
      ? [
          `<p>To read out before the engine is started: ${escaped(plan.readOuts.map(({ title }) => title).join('; '))}.</p>`,
        ]
      : []),
    '<p class="quiet"><code>telltale plan</code> writes it out step by step, with all its cautions.</p>',
  ];
}
