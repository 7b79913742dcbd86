import type { Verification } from '../verify/verification.js';
import type { Block, Line } from './document.js';
import { quantity } from './format.js';

/** Measures without a limit: compressor, component protection, power, fuel; and those of which nothing was recorded. */
export function reportedBlocks(reported: Verification['reported']): Block[] {
  const told = reported.filter(({ extreme }) => extreme !== null);
  const open = reported.filter(({ extreme }) => extreme === null);
  return [
    ...(told.length === 0
      ? []
      : ([
          { kind: 'subheading', line: 'Told without a limit' },
          {
            kind: 'table',
            head: ['', 'mean', 'extreme', 'pulls', ''],
            right: [1, 2, 3],
            rows: told.map(({ title, unit, mean, extreme, pulls, clipped }): Line[] => [
              title,
              quantity(mean!, unit, 3),
              quantity(extreme!.value, unit, 3),
              String(pulls),
              `pull ${extreme!.pull}${clipped > 0 ? `; sensor at the end of its range in ${clipped}` : ''}`,
            ]),
          },
        ] satisfies Block[])),
    ...(open.length === 0
      ? []
      : ([
          {
            kind: 'paragraph',
            line: [
              {
                text: `Not recorded, and so not told: ${open.map(({ title }) => title).join('; ')}.`,
                tone: 'quiet',
              },
            ],
          },
        ] satisfies Block[])),
  ];
}
