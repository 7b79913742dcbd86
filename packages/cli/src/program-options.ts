import { InvalidArgumentError, Option } from '@commander-js/extra-typings';

/** Options that several commands have. */
export function vehicle() {
  return new Option('--vehicle <file>', 'vehicle profile (YAML or JSON): what the car is, own limits');
}

export function map() {
  return new Option('--map <file>', 'corrections of how columns are understood (YAML, JSON or CSV)');
}

export function rate() {
  return new Option('--rate <hz>', 'rows per second of a log that has no time column').argParser(hertz);
}

export function page() {
  return new Option('--html <file>', 'write one self-contained page besides; replaced when it exists');
}

export function redaction() {
  return new Option('--redact', 'without file names, identification numbers, positions, names of persons and paths');
}

function hertz(text: string): number {
  const value = Number(text);
  if (text.trim() === '' || !Number.isFinite(value) || value <= 0 || value > 100_000) {
    throw new InvalidArgumentError('Expected rows per second above 0, e.g. 10.');
  }
  return value;
}

export function share(text: string): number {
  const value = text.endsWith('%') ? Number(text.slice(0, -1)) / 100 : Number(text);
  if (text.trim() === '' || !Number.isFinite(value) || value < 0 || value > 1)
    throw new InvalidArgumentError('Expected a share from 0 to 1, e.g. 0.6.');
  return value;
}
