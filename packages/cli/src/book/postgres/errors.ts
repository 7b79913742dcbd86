import { UserError } from '../../exit-code.js';

/** Codes of PostgreSQL (Appendix A of its manual) and of the network in the user's words; anything else stays what it is. */
export function asUserError(error: unknown, place: string): unknown {
  if (error instanceof UserError) return error;
  const code = (error as { code?: unknown }).code;
  const text = error instanceof Error ? error.message : String(error);
  if (typeof code !== 'string') return /terminated|connection|timeout/i.test(text) ? unreachable(place, text) : error;
  if (code.startsWith('28')) return new UserError('book-refused', `${place}: the server refused the log-in (${text})`);
  if (code === '3D000')
    return new UserError('no-book', `${place}: there is no such database; create it, see docs/logbook.md`);
  if (code === '42501' || code === '25006')
    return new UserError(
      'book-read-only',
      `${place}: the role may not do this (${text}); docs/logbook.md lists the rights it needs. Nothing was changed`,
    );
  if (code === '55P03' || code === '57014')
    return new UserError('book-busy', `${place}: another process holds the book; try again. Nothing was changed`);
  if (code === '42P01' || code === '3F000')
    return new UserError('no-book', `${place}: there is no logbook yet; telltale track add FILE... begins one`);
  if (code.startsWith('53'))
    return new UserError('book-unwritable', `${place}: the server is out of room or connections (${text})`);
  if (code.startsWith('08') || code.startsWith('57P') || /^E[A-Z]+$/.test(code)) return unreachable(place, text);
  if (code.startsWith('XX'))
    return new UserError('book-damaged', `${place}: the server calls the book damaged (${text})`);
  return error;
}

function unreachable(place: string, text: string): UserError {
  return new UserError(
    'book-unreachable',
    `${place}: the server could not be reached or broke off (${text || 'no answer'})`,
  );
}
