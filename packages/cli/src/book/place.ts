import { resolve } from 'node:path';
import envPaths from 'env-paths';

/** Where a book lies. */
export type Place =
  | { readonly kind: 'file'; readonly path: string }
  | { readonly kind: 'server'; readonly url: string };

/** The book that is meant: `--book`, else TELLTALE_BOOK, else the one in the user's data folder. */
export function placeOf(given: string | undefined, environment: NodeJS.ProcessEnv = process.env): Place {
  const named = given ?? (environment.TELLTALE_BOOK === '' ? undefined : environment.TELLTALE_BOOK);
  if (named !== undefined && /^postgres(ql)?:\/\//i.test(named)) return { kind: 'server', url: named };
  const path = named ?? `${envPaths('telltale', { suffix: '' }).data}/logbook.sqlite`;
  return { kind: 'file', path: resolve(path) };
}

/** The place for messages: a server without its password. */
export function shownPlace(place: Place): string {
  if (place.kind === 'file') return place.path;
  try {
    const url = new URL(place.url);
    url.password = '';
    url.search = '';
    return url.href;
  } catch {
    return 'postgres://…';
  }
}
