import type { InputReport } from '../../engine/assessment.js';
import { quantity } from '../format.js';
import { blockLines } from '../html.js';
import { inputBlocks } from '../input-blocks.js';
import { escaped, scrollOf } from '../page-shell.js';

/** Inputs whose columns are listed: of a folder of a thousand files nobody reads them all. */
const LISTED = 12;

/** How each input was read: doubts, hash, columns. */
export function filesHtml(inputs: readonly InputReport[]): string[] {
  return inputs.flatMap((input, k) => [
    ...inputBlocks([input]).slice(1).flatMap(blockLines),
    ...(input.sha256 === '' ? [] : [`<p class="hash quiet">SHA-256 <code>${escaped(input.sha256)}</code></p>`]),
    ...(k < LISTED ? columnsHtml(input) : []),
  ]);
}

function columnsHtml({ channels, file }: InputReport): string[] {
  if (channels.length === 0) return [];
  return [
    `<details><summary>Columns of ${escaped(file)}: ${channels.length} understood</summary>`,
    scrollOf('columns'),
    '<table><thead><tr><th scope="col">channel</th><th scope="col">column</th><th scope="col">rate</th><th scope="col">lowest to highest</th><th scope="col">how sure</th></tr></thead><tbody>',
    ...channels.map(
      ({ id, source, rate, range, unit, certainty }) =>
        `<tr><th scope="row">${escaped(id)}</th><td>${escaped(source)}</td><td>${rate === null ? '' : escaped(quantity(rate.value, rate.unit, 2))}</td><td>${range === null ? '' : `${escaped(quantity(range.low, unit))} to ${escaped(quantity(range.high, unit))}`}</td><td>${escaped(certainty)}</td></tr>`,
    ),
    '</tbody></table></div></details>',
  ];
}
