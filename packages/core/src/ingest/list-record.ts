/** One line of a list: stored values or trouble codes. */
export interface ListRecord {
  /** Physical line, from 1. */
  readonly line: number;
  readonly cells: readonly string[];
  readonly blank: boolean;
  readonly comment: boolean;
}

/** Lower-case words of a cell without brackets and punctuation: `Fault code (DTC)` -> `fault code dtc`. */
export function plainWords(cell: string): string {
  return cell
    .toLowerCase()
    .replace(/[^\p{L}\p{N}]+/gu, ' ')
    .trim();
}

/** Column of each role that the head cells name; a role that no cell names is absent. */
export function rolesOf<R extends string>(
  cells: readonly string[],
  words: Readonly<Record<R, RegExp>>,
): Map<R, number> {
  const roles = new Map<R, number>();
  cells.forEach((cell, column) => {
    const text = plainWords(cell);
    for (const role of Object.keys(words) as R[]) {
      if (!roles.has(role) && words[role].test(text)) {
        roles.set(role, column);
        return;
      }
    }
  });
  return roles;
}

/** A piece of a file for a message: one line, at most 40 characters. */
export function shown(text: string): string {
  const flat = text.replace(/\s+/g, ' ').trim();
  return flat.length > 40 ? `${flat.slice(0, 39)}…` : flat;
}
