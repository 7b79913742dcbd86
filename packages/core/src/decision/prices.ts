import * as z from 'zod';
import { csvRows } from '../sidefiles/csv-rows.js';
import { readSideFile, type SideFile, type SideFileFault } from '../sidefiles/side-file.js';

/** Stable code of every fault in a price list. */
export const PRICES_CODE = 'bad-prices';

/** An amount of money as a range, low to high, in the currency of the list. */
export interface Amount {
  readonly low: number;
  readonly high: number;
}

/** The user's own prices; none are ours. */
export interface Prices {
  /** As written, e.g. `EUR`. */
  readonly currency: string;
  /** Rule, system, point of the sheet or its topic to amount. */
  readonly amounts: ReadonlyMap<string, Amount>;
}

const MONEY = z.number().min(0).max(1e9);
const AMOUNT = z
  .union(
    [
      MONEY.transform((value): Amount => ({ low: value, high: value })),
      z.tuple([MONEY, MONEY]).transform(([low, high]): Amount => ({ low, high })),
      z.strictObject({ low: MONEY, high: MONEY }),
    ],
    {
      error: (issue) =>
        `found ${JSON.stringify(issue.input) ?? 'nothing'}, expected an amount, [low, high] or { low, high }, none below 0`,
    },
  )
  .refine(({ low, high }) => low <= high, { error: 'found the low end above the high end' });

const PRICES = z.strictObject({
  schema: z.literal('telltale/prices@1', { error: 'expected schema: telltale/prices@1' }),
  currency: z.string().min(1).max(12),
  prices: z.record(z.string(), AMOUNT),
});

/**
 * Reads a price list: YAML or JSON (schema `telltale/prices@1`), or CSV with the columns topic, low, high, currency (or
 * topic, amount, currency). A topic is a rule, a system, a point of the walk-round sheet or the first word of one.
 */
export function readPrices(text: string, name: string): SideFile<Prices> {
  const first =
    text
      .replace(/^\uFEFF/, '')
      .trimStart()
      .split(/\r?\n/, 1)[0] ?? '';
  if (/^"?(topic|rule)"?\s*[,;\t]/i.test(first)) return readCsv(text, name);
  const read = readSideFile(text, name, PRICES_CODE, PRICES);
  if (!read.ok) return read;
  return { ok: true, value: { currency: read.value.currency, amounts: new Map(Object.entries(read.value.prices)) } };
}

function readCsv(text: string, name: string): SideFile<Prices> {
  const faults: SideFileFault[] = [];
  const amounts = new Map<string, Amount>();
  let currency: string | undefined;
  const [first, ...rows] = csvRows(text);
  const head = (first?.cells ?? []).map((cell) => cell.toLowerCase());
  const at = (names: readonly string[]): number => head.findIndex((cell) => names.includes(cell));
  const columns = {
    low: at(['low', 'amount', 'price']),
    high: at(['high', 'amount', 'price']),
    currency: at(['currency']),
  };
  const fault = (line: number, column: number, message: string): void => {
    faults.push({ code: PRICES_CODE, message: `${name}:${line}:${column}: ${message}`, line, column });
  };
  if (columns.low < 0 || columns.currency < 0)
    fault(1, 1, `found the columns ${head.join(', ')}, expected topic, low, high, currency or topic, amount, currency`);
  else
    rows.forEach(({ line, cells }) => {
      const [topic = ''] = cells;
      const own = cells[columns.currency] ?? '';
      currency ??= own === '' ? undefined : own;
      const amount = AMOUNT.safeParse([money(cells[columns.low]), money(cells[columns.high] || cells[columns.low])]);
      if (topic === '') fault(line, 1, 'found no topic, expected a rule, a system or a point of the sheet');
      else if (!amount.success)
        fault(
          line,
          columns.low + 1,
          `${topic}: found ${cells[columns.low]} to ${cells[columns.high]}, expected amounts, the low one first`,
        );
      else if (own !== '' && own !== currency)
        fault(line, columns.currency + 1, `${topic}: found ${own} beside ${currency}, expected one currency`);
      else amounts.set(topic, amount.data);
    });
  if (faults.length > 0) return { ok: false, faults };
  return { ok: true, value: { currency: currency ?? '', amounts } };
}

/** `1234.5`; a comma is a decimal sign only where one or two digits follow. NaN otherwise. */
function money(cell = ''): number {
  const plain = cell.replace(/[\s'’\u202f]/g, '').replace(/,(\d{1,2})$/, '.$1');
  return /^\d+(\.\d+)?$/.test(plain) ? Number(plain) : Number.NaN;
}

/** JSON Schema of the YAML form. */
export function pricesSchema(): object {
  return z.toJSONSchema(PRICES, { io: 'input' });
}
