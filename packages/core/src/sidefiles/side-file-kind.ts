/** Side files that a text can say it is, by the schema that it names. */
export type SideFileKind = 'vehicle' | 'map' | 'sheet' | 'prices';

/** Characters from the beginning within which the schema has to stand. */
const HEAD = 4096;

/** `schema: telltale/vehicle@1` -> `vehicle`; undefined when it names none of ours near its beginning. */
export function sideFileKind(text: string): SideFileKind | undefined {
  return /(?:^|[\s"'{])telltale\/(vehicle|map|sheet|prices)@/.exec(text.slice(0, HEAD))?.[1] as
    | SideFileKind
    | undefined;
}
