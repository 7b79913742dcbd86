import type { Assessment } from '../engine/assessment.js';
import type { Block, Line } from './document.js';

/** Suspects with what speaks for and against each, then the tests in the order in which a mechanic would make them. */
export function chainBlocks({ chains }: Assessment): Block[] {
  return (chains ?? []).flatMap(({ problem, suspects, tests }): Block[] => [
    { kind: 'heading', text: 'Which part is it?', note: problem },
    {
      kind: 'facts',
      rows: suspects.map(({ cause, signs }, i): [string, Line] => [
        `${i + 1}. suspect`,
        [
          { text: cause, strong: true },
          ...signs.flatMap(({ rule, says, speaks }, k) => [
            { text: `${k === 0 ? ': ' : '; '}${speaks === 'against' ? 'but ' : ''}${says}` },
            { text: ` (${rule})`, tone: 'quiet' as const },
          ]),
        ],
      ]),
    },
    {
      kind: 'list',
      ordered: true,
      label: 'Test in this order',
      items: tests.map(({ test, tells }): Line => [test, { text: ` ${tells}`, tone: 'quiet' }]),
    },
  ]);
}
