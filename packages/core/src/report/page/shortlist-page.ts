import type { Candidate, Shortlist } from '../../shortlist/shortlist.js';
import { SAID } from '../decision-blocks.js';
import { number, percent } from '../format.js';
import { blockLines } from '../html.js';
import { STYLE } from '../html-style.js';
import { escaped, pageOf, scrollOf } from '../page-shell.js';
import { shortlistDocument } from '../shortlist-document.js';
import { badge, barHtml } from './glance.js';
import { PAGE_STYLE } from './page-style.js';

/**
 * Candidates side by side as one self-contained page without a script: their intervals of the health index below each
 * other, so that it is seen where they overlap; then each with its findings, as in every other form. Same input, same bytes.
 */
export function shortlistPage(list: Shortlist): string {
  const blocks = shortlistDocument(list);
  const table = blocks.findIndex(({ kind }) => kind === 'table');
  const title = `Shortlist of ${list.candidates.length}`;
  return pageOf({
    title: `${title} – telltale`,
    style: STYLE + PAGE_STYLE,
    body: [
      '<main>',
      ...blocks.slice(0, table).flatMap(blockLines),
      ...intervals(list.candidates),
      '<h2>Each of them</h2>',
      ...blocks.slice(table + 1).flatMap(blockLines),
      '</main>',
    ],
  });
}

function intervals(candidates: readonly Candidate[]): string[] {
  const priced = candidates.some(({ sum }) => sum !== undefined);
  const head = [
    'candidate',
    'buyer',
    'verdict',
    'health index, 0 to 100',
    'shown',
    'found',
    'open',
    ...(priced ? ['sum'] : []),
  ];
  return [
    scrollOf('candidates side by side'),
    '<table class="candidates"><thead><tr>',
    ...head.map((text) => `<th scope="col">${text}</th>`),
    '</tr></thead><tbody>',
    ...candidates.map(({ rank, name, action, verdict, findings, seen, unproven, sum }) => {
      const { low, high } = verdict.index;
      const { text, tone } = SAID[action];
      return [
        `<tr><th scope="row">${rank}. <b>${escaped(name)}</b></th>`,
        `<td><strong class="${tone}">${escaped(text.toLowerCase())}</strong></td>`,
        `<td>${badge(verdict.level)}</td>`,
        `<td class="index">${barHtml(low, high)}${Math.round(low)} to ${Math.round(high)}</td>`,
        `<td>${escaped(percent(verdict.coverage))}</td>`,
        `<td>${findings.length + (seen?.length ?? 0)}</td>`,
        `<td>${unproven.count}</td>`,
        priced
          ? `<td>${sum === undefined ? '' : escaped(`${number(sum.low, 9)} to ${number(sum.high, 9)} ${sum.currency}`)}</td>`
          : '',
        '</tr>',
      ].join('');
    }),
    '</tbody></table></div>',
  ];
}
