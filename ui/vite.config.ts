import { svelte } from '@sveltejs/vite-plugin-svelte'
import { defineConfig } from 'vite'

const server = process.env['GRIGNE_SERVER'] ?? 'http://127.0.0.1:4747'

export default defineConfig({
  plugins: [svelte()],
  build: { target: 'es2022', assetsInlineLimit: 0, modulePreload: { polyfill: false }, reportCompressedSize: true },
  worker: { format: 'es' },
  server: { proxy: { '/api': server, '/reader.wasm': server }, fs: { allow: ['..'] } },
})
