import { LineCounter, parseDocument } from 'yaml';
import type * as z from 'zod';

/** One thing wrong with a side file (profile, map, …): where, what was found, what was expected. */
export interface SideFileFault {
  readonly code: string;
  /** `file:line:column: …`, one line. */
  readonly message: string;
  readonly line: number;
  readonly column: number;
}

export type SideFile<T> =
  | { readonly ok: true; readonly value: T }
  | { readonly ok: false; readonly faults: readonly SideFileFault[] };

/** Larger texts are no side files; also bounds the work on a hostile one. */
const MAX_LENGTH = 1_000_000;

/**
 * Reads a YAML or JSON side file against its schema.
 * @param text content of the file; @param name shown in the messages; @param code stable code of its faults.
 */
export function readSideFile<S extends z.ZodType>(
  text: string,
  name: string,
  code: string,
  schema: S,
): SideFile<z.output<S>> {
  if (text.length > MAX_LENGTH) {
    return fail(code, name, 1, 1, `found ${text.length} characters, expected a YAML or JSON file below ${MAX_LENGTH}`);
  }
  const lines = new LineCounter();
  const document = parseDocument(text, { lineCounter: lines, prettyErrors: false });
  const syntax = document.errors[0];
  if (syntax !== undefined) {
    const at = lines.linePos(syntax.pos[0]);
    return fail(code, name, at.line, at.col, `not valid YAML or JSON: ${oneLine(syntax.message)}`);
  }
  let value: unknown;
  try {
    value = document.toJS({ maxAliasCount: 100 });
  } catch (error) {
    return fail(code, name, 1, 1, `not readable: ${oneLine(error instanceof Error ? error.message : String(error))}`);
  }
  const parsed = schema.safeParse(value);
  const foreign = foreignSchema(value, schema);
  if (!parsed.success && foreign !== undefined) return fail(code, name, 1, 1, foreign);
  if (parsed.success) return { ok: true, value: parsed.data };
  return {
    ok: false,
    faults: parsed.error.issues.flatMap(spread).map((issue) => {
      const at = locate(document, lines, issue.path);
      const where = issue.path.length === 0 ? '' : `${issue.path.join('.')}: `;
      return fault(code, name, at.line, at.col, `${where}${oneLine(issue.message)}`);
    }),
  };
}

/** Another kind of side file, given by mistake: one message, not one for each of its keys. */
function foreignSchema(value: unknown, schema: z.ZodType): string | undefined {
  const found = (value as { schema?: unknown } | null)?.schema;
  const expected = (schema as { shape?: { schema?: { value?: unknown } } }).shape?.schema?.value;
  if (typeof found !== 'string' || typeof expected !== 'string' || found === expected) return undefined;
  const option = found.startsWith('telltale/vehicle@')
    ? '; give it with --vehicle'
    : found.startsWith('telltale/map@')
      ? '; give it with --map'
      : found.startsWith('telltale/targets@')
        ? '; give it with --targets'
        : found.startsWith('telltale/limits@')
          ? '; give it with --limits'
          : '';
  return `found schema ${found}, expected ${expected}${option}`;
}

type Issue = Pick<z.core.$ZodIssue, 'path' | 'message'>;

/** A union's issue says only "invalid input"; the branch that got furthest says what is wrong. */
function spread(issue: z.core.$ZodIssue): Issue[] {
  if (issue.code === 'unrecognized_keys') {
    return issue.keys.map((key) => ({ path: [...issue.path, key], message: issue.message }));
  }
  return [issue];
}

/** Line and column (from 1) of a path in a YAML or JSON text, or of the nearest parent that is there. */
export function placeInSideFile(text: string, path: readonly PropertyKey[]): { line: number; column: number } {
  const lines = new LineCounter();
  const { line, col } = locate(parseDocument(text, { lineCounter: lines, prettyErrors: false }), lines, path);
  return { line, column: col };
}

function locate(
  document: ReturnType<typeof parseDocument>,
  lines: LineCounter,
  path: readonly PropertyKey[],
): { line: number; col: number } {
  for (let depth = path.length; depth >= 0; depth--) {
    const node: unknown = document.getIn(path.slice(0, depth), true);
    const range = (node as { range?: readonly number[] } | null | undefined)?.range;
    if (range?.[0] !== undefined) return lines.linePos(range[0]);
  }
  return { line: 1, col: 1 };
}

function fail(
  code: string,
  name: string,
  line: number,
  column: number,
  text: string,
): { ok: false; faults: SideFileFault[] } {
  return { ok: false, faults: [fault(code, name, line, column, text)] };
}

function fault(code: string, name: string, line: number, column: number, text: string): SideFileFault {
  return { code, line, column, message: `${name}:${line}:${column}: ${text}` };
}

function oneLine(text: string): string {
  return text.replace(/\s+/g, ' ').trim();
}
