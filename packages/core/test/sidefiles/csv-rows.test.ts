import { expect, it } from 'vitest';
import { readPrices } from '../../src/decision/prices.js';
import { readSheet } from '../../src/sheet/sheet.js';
import { csvRows } from '../../src/sidefiles/csv-rows.js';

it('counts comments, empty rows and the lines of a quoted cell as lines', () =>
  expect(csvRows('\uFEFFa,b\n# said, so\n\n"two\r\nlines", 1 \nlast\n')).toEqual([
    { line: 1, cells: ['a', 'b'] },
    { line: 4, cells: ['two\r\nlines', '1'] },
    { line: 6, cells: ['last'] },
  ]));

it('names the line of a fault behind them', () => {
  const sheet = readSheet('point,state,note\n# mine\nbody.gaps,watch,"two\nlines"\nbrakes.discs,worn,\n', 's.csv');
  expect(sheet.ok ? [] : sheet.faults.map(({ line }) => line)).toEqual([5]);
  const prices = readPrices('topic,low,high,currency\n# mine\nengine,900,400,EUR\n\nleaks,1,2,USD\n', 'p.csv');
  expect(prices.ok ? [] : prices.faults.map(({ line }) => line)).toEqual([3, 5]);
});

it('says what an amount is', () => {
  const read = readPrices('schema: telltale/prices@1\ncurrency: EUR\nprices:\n  leaks: cheap\n', 'p.yaml');
  expect(read.ok ? '' : read.faults[0]!.message).toMatch(
    /^p\.yaml:4:\d+: prices\.leaks: found "cheap", expected an amount/,
  );
});
