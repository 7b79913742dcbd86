import type { Action, Assessment, Decision } from '../engine/assessment.js';
import type { Block, Line, Tone } from './document.js';
import { number } from './format.js';

/** Each decision in words. */
export const SAID: Readonly<Record<Action, { readonly text: string; readonly means: string; readonly tone: Tone }>> = {
  'walk-away': { text: 'WALK AWAY', means: 'do not buy this car as it stands', tone: 'stop' },
  negotiate: {
    text: 'NEGOTIATE',
    means: 'there is something to repair or to watch, and it has a price',
    tone: 'watch',
  },
  buy: { text: 'BUY', means: 'nothing speaks against it that a recording can show', tone: 'sound' },
  'record-more': { text: 'RECORD MORE', means: 'not enough was shown to decide', tone: 'unproven' },
};

/** The decision first, with the three weightiest reasons. */
export function decisionBlocks({ decision, vehicle }: Assessment): Block[] {
  const { text, means, tone } = SAID[decision.action];
  return [
    {
      kind: 'title',
      line: [
        { text: `Buyer: ${text}`, tone, strong: true },
        { text: ` – ${means}`, tone: 'plain' },
        ...(vehicle.id === '' ? [] : [{ text: `  (${vehicle.id})`, tone: 'quiet' as const }]),
      ],
    },
    { kind: 'list', ordered: true, items: decision.reasons.slice(0, 3) },
  ];
}

/** What a person saw, apart from what was recorded, in the same words. */
export function seenBlocks({ seen }: Assessment): Block[] {
  if (seen === undefined) return [];
  const order = { stop: 0, repair: 1, watch: 2, sound: 3, 'not-seen': 4 } as const;
  const rows = [...seen]
    .sort((a, b) => order[a.state] - order[b.state])
    .map(({ point, state, note }): Line[] => [
      point,
      [{ text: state, tone: state === 'not-seen' ? 'unproven' : state, strong: true }],
      note,
    ]);
  const heading: Block = {
    kind: 'heading',
    text: 'Seen by eye',
    note: 'by the walk-round sheet, not by the recording',
  };
  if (rows.length === 0) return [heading, { kind: 'paragraph', line: 'The sheet is empty: nothing was looked at.' }];
  return [heading, { kind: 'table', head: ['point', 'state', 'note'], rows }];
}

/** Questions for the seller, and what the findings justify by the user's prices. */
export function negotiationBlocks({ questions, sum }: Decision): Block[] {
  const blocks: Block[] = [];
  if (sum !== undefined) {
    const { low, high, currency, items, unpriced } = sum;
    blocks.push(
      { kind: 'heading', text: 'What the findings justify', note: 'by your own price list' },
      {
        kind: 'table',
        head: ['for', `from, ${currency}`, `to, ${currency}`],
        right: [1, 2],
        rows: [
          ...items.map((item): Line[] => [item.about, number(item.low, 9), number(item.high, 9)]),
          [
            [{ text: 'sum', strong: true }],
            [{ text: number(low, 9), strong: true }],
            [{ text: number(high, 9), strong: true }],
          ],
        ],
      },
    );
    if (unpriced.length > 0)
      blocks.push({ kind: 'paragraph', line: `Without a price in the list: ${unpriced.join(', ')}.` });
  }
  if (questions.length > 0)
    blocks.push(
      { kind: 'heading', text: 'Ask the seller' },
      { kind: 'list', ordered: false, items: questions.map(({ question }) => question) },
    );
  return blocks;
}
