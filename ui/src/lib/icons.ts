/** Icons: 24 px, one line of 1.75 px, no fill, always beside a word. */
export const icons: Record<string, string> = {
  today: 'M12 4v8l5 3M12 21a9 9 0 1 1 0-18 9 9 0 0 1 0 18',
  plan: 'M3 9c4-4 7-3 9 0s5 4 9 0M3 15c4-2 7-1 9 0s5 2 9 0M8 5v14M16 5v14',
  recipes: 'M6 3h12v18H6zM9 8h6M9 12h6M9 16h3',
  kitchen: 'M4 21V10l8-6 8 6v11M9 21v-6h6v6',
  culture: 'M8 3h8M9 3v4l-2 3v11h10V10l-2-3V3M7 14c3-2 7 2 10 0',
  oven: 'M4 4h16v16H4zM7 9h10v8H7zM7 6.5h1M11 6.5h1',
  notebook: 'M7 3h11v18H7zM7 3v18M4 7h3M4 12h3M4 17h3',
  travel: 'M3 17c5 0 4-10 9-10s4 10 9 10M3 20c6 0 5-5 9-5s3 5 9 5',
  more: 'M4 7h16M4 12h16M4 17h16',
  undo: 'M9 7 4 12l5 5M4 12h10a5 5 0 0 1 0 10h-2',
}
