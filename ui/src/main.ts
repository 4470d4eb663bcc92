import { mount } from 'svelte'
import './app.css'
import App from './App.svelte'

const light = localStorage.getItem('light')
if (light) document.documentElement.setAttribute(`data-${light}`, '')
mount(App, { target: document.getElementById('app')! })
// plain HTTP in the house has no service worker: there the pages need the server to begin
if (import.meta.env.PROD && isSecureContext && 'serviceWorker' in navigator) void navigator.serviceWorker.register('/sw.js')
