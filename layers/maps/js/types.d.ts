// Shapes of the data that the page is given (payload.py, page.py), for the type check alone.
import type * as L from "leaflet";

export interface Symbol { word: string; shape: string; colour: string }

export interface Theme {
  name: string; title: string; column: string; day_by_day: boolean; class_of: number[]; symbols: Symbol[];
}

export interface Header {
  trail: string; units: string; visit_every_days: number; on: string; season: number;
  seasons: number[]; stages: string[]; themes: Theme[];
}

/** Texts by their numbers: an array, or one string (packed.js). */
export interface Texts extends Iterable<string> { length: number; at(i: number): string | any; indexOf(text: string): number }

/** Columns of every box; a longitude of NO_PLACE stands for a box without a place. */
export interface Boxes { lon: Int32Array; lat: Int32Array; box: Texts }

export interface Base extends Boxes { header: Header; sections: Texts; section: Uint16Array }

export interface PackedSeason {
  header: { season: number; first_day: string; days: number };
  changes: Uint16Array; gap: Uint8Array; state: Uint8Array | Uint16Array; visits: Uint16Array; visit_gap: Uint8Array;
  occupancy: Uint8Array; species: Uint8Array; fate: Uint8Array;
}

export interface DueDay { due: Uint8Array; reason: Uint16Array; reasons: Texts; until: Int32Array }

export interface Collection { features: GeoJSON.Feature<any, any>[] }

/** Pictures of the ground as tiles: the trail's own, or those of another server. */
export interface Pictures {
  url: string; attribution: string; licence?: string; min_zoom?: number; max_zoom?: number; bounds?: [number, number, number, number]; version?: string;
}

export interface Layers { zones: Collection; paths: Collection; places: Collection; background?: Pictures }

/** A name to write on the map; `bounds` where it names an area. */
export interface Name { at: L.LatLng; text: string; kind: string; bounds?: L.LatLngBounds }

export interface Sources {
  base: string; season: string; ground: string; card: string;
  due: string | null;
}

export interface Settings { sources: Sources; theme: string | null; tiles: Pictures | null }

export interface Cell {
  place: string; lon: number; lat: number; bounds: number[]; size_deg: number; boxes: number;
  nested: number; in_use: number | null; nests: number; species: string[];
}

/** How a box is shown on the card and in the list on one day. */
export interface State { on: string; symbol: Symbol; since: number; overdue: boolean }

export interface Walk { boxes: string[]; home: Leg | null }
export interface Leg { instruction: string; leg_m: number; leg_minutes: number; compass: string }
export interface Stop extends Leg {
  walker: number; order: number; box: string; boxes: string[]; key: string; lat: number; lon: number; approach: string;
}
export interface Round {
  on: string; from: string; to: string; stops: Stop[]; walks: Walk[]; geometry: { coordinates: number[][][] };
}

declare global {
  interface Window {
    boxround: { map: L.Map; settings: Settings };
  }
}
